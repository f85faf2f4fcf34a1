//! The plan as asked, in `audit.json`: its keys by their rows, under the names that the rows give them there.

use super::number::number;
use crate::outputs::cells::utc_offset;
use crate::outputs::findings_csv::fraction;
use crate::plan::schema::{Keyed, Kind, PlanKey, Said};
use crate::plan::{
    Accepted, CardPlan, Choice, DailyHours, DeliveryPlan, DocumentPlan, ExposurePlan, Moment, Part,
    PartStart, Plan, Planned, RigPlan,
};
use schemars::{JsonSchema, Schema, SchemaGenerator, json_schema};
use serde::ser::{Serialize, SerializeMap, Serializer};
use std::borrow::Cow;
use std::collections::BTreeMap;
use std::marker::PhantomData;

/// The plan as asked. What was not said is null.
#[derive(Debug, serde::Serialize, JsonSchema)]
#[schemars(rename = "Plan")]
pub struct PlanV1 {
    /// The keys above the first table.
    #[serde(flatten)]
    pub top: TableV1<Plan>,
    /// The exposure.
    pub exposure: TableV1<ExposurePlan>,
    /// The rig.
    pub rig: TableV1<RigPlan>,
    /// The card.
    pub card: TableV1<CardPlan>,
    /// The delivery.
    pub delivery: TableV1<(DeliveryPlan, DocumentPlan)>,
    /// What changes on purpose.
    pub parts: Vec<PartV1>,
    /// Findings seen and agreed to.
    pub accepted: Vec<AcceptedV1>,
    /// Overrides of the checks' limits, by check and key.
    pub tolerances: BTreeMap<String, BTreeMap<String, Option<f64>>>,
}

/// Hours of the day, `hh:mm:ss`.
#[derive(Debug, serde::Serialize, JsonSchema)]
#[schemars(rename = "Hours")]
pub struct HoursV1 {
    /// When they begin.
    pub from: String,
    /// When they end; not after `from` where they pass midnight.
    pub to: String,
}

/// One value, or the two ends of a ramp.
#[derive(Debug, serde::Serialize, JsonSchema)]
#[schemars(rename = "Range")]
pub struct RangeV1 {
    /// At the beginning.
    pub from: Option<f64>,
    /// At the end; the same as `from` for one value.
    pub to: Option<f64>,
}

/// What changes on purpose.
#[derive(Debug, serde::Serialize, JsonSchema)]
#[schemars(rename = "Part")]
pub struct PartV1 {
    /// The frame of the run from which on, from 0.
    pub from_frame: Option<u64>,
    /// Or the moment.
    pub from: Option<String>,
    /// Or the file.
    pub from_file: Option<String>,
    /// The new interval, s.
    pub interval_s: Option<f64>,
    /// The new exposure; what is null stays as it was.
    pub exposure: TableV1<ExposurePlan>,
    /// The new way of the carriage; null where it stays.
    pub direction: Option<String>,
    /// What was changed, in the photographer's words.
    pub note: Option<String>,
}

/// A finding seen and agreed to.
#[derive(Debug, serde::Serialize, JsonSchema)]
#[schemars(rename = "Accepted")]
pub struct AcceptedV1 {
    /// Id of the check.
    pub check: String,
    /// Where it stands.
    pub at: Option<String>,
    /// Or the file that it names.
    pub file: Option<String>,
    /// As many slots or frames as were agreed to.
    pub count: Option<u64>,
    /// Why it is accepted.
    pub reason: String,
}

/// A table of the plan, or several that are one in the record.
#[derive(Debug)]
pub struct TableV1<S> {
    fields: Vec<(&'static str, ValueV1)>,
    of: PhantomData<S>,
}

/// What a key says.
#[derive(Debug, serde::Serialize)]
#[serde(untagged)]
pub enum ValueV1 {
    Null,
    Text(String),
    Lines(Vec<String>),
    Hours(Vec<HoursV1>),
    Number(Option<f64>),
    Count(u64),
    Range(RangeV1),
    YesNo(bool),
}

/// What stands in one table of the record, in its order.
pub trait Tabled {
    /// The name of the table's type, and what is said of it.
    const SCHEMA: (&'static str, &'static str);
    /// Its fields: name, what it is, and its type.
    fn fields() -> Vec<(&'static str, String, Typed)>;
    /// What they say, in the same order.
    fn values(&self) -> Vec<(&'static str, ValueV1)>;
}

/// Tells the type of a field.
type Typed = fn(&mut SchemaGenerator) -> Schema;

/// The rows that the record has last, or the others.
fn rows<S: Keyed>(last: bool) -> impl Iterator<Item = &'static PlanKey<S>> {
    S::KEYS.iter().filter(move |key| key.told_last == last)
}

impl<S: Keyed> Tabled for S {
    const SCHEMA: (&'static str, &'static str) = <S as Keyed>::SCHEMA;

    fn fields() -> Vec<(&'static str, String, Typed)> {
        rows::<S>(false).chain(rows(true)).map(field).collect()
    }

    fn values(&self) -> Vec<(&'static str, ValueV1)> {
        rows(false).chain(rows(true)).map(|key| (key.json, value(key, self))).collect()
    }
}

impl Tabled for (DeliveryPlan, DocumentPlan) {
    const SCHEMA: (&'static str, &'static str) = <DeliveryPlan as Keyed>::SCHEMA;

    fn fields() -> Vec<(&'static str, String, Typed)> {
        let clip = |last| rows::<DeliveryPlan>(last).map(field);
        clip(false).chain(rows::<DocumentPlan>(false).map(field)).chain(clip(true)).collect()
    }

    fn values(&self) -> Vec<(&'static str, ValueV1)> {
        let clip = |last| rows(last).map(|key| (key.json, value(key, &self.0)));
        let page = rows(false).map(|key| (key.json, value(key, &self.1)));
        clip(false).chain(page).chain(clip(true)).collect()
    }
}

fn field<S>(key: &'static PlanKey<S>) -> (&'static str, String, Typed) {
    let typed: Typed = match &key.kind {
        Kind::Text(_) | Kind::Moment(_) | Kind::Word(_) => |g| g.subschema_for::<Option<String>>(),
        Kind::Lines(_) => |g| g.subschema_for::<Vec<String>>(),
        Kind::Hours(_) => |g| g.subschema_for::<Vec<HoursV1>>(),
        Kind::Number(..) => |g| g.subschema_for::<Option<f64>>(),
        Kind::Count(..) => |g| g.subschema_for::<Option<u64>>(),
        Kind::Few(..) => |g| g.subschema_for::<Option<u32>>(),
        Kind::Planned(..) => |g| g.subschema_for::<Option<RangeV1>>(),
        Kind::YesNo(_) => |g| g.subschema_for::<Option<bool>>(),
    };
    (key.json, key.told(), typed)
}

fn value<S>(key: &PlanKey<S>, of: &S) -> ValueV1 {
    match key.said(of) {
        None => match key.kind {
            Kind::Lines(_) | Kind::Hours(_) => ValueV1::Lines(Vec::new()),
            _ => ValueV1::Null,
        },
        Some(Said::Text(words)) => ValueV1::Text(words.to_owned()),
        Some(Said::Word(word)) => ValueV1::Text(word.to_owned()),
        Some(Said::Moment(at)) => ValueV1::Text(moment(at)),
        Some(Said::Lines(lines)) => ValueV1::Lines(lines.to_vec()),
        Some(Said::Hours(all)) => ValueV1::Hours(all.iter().map(hours).collect()),
        Some(Said::Number(v, _)) => ValueV1::Number(number(v)),
        Some(Said::Count(n)) => ValueV1::Count(n),
        Some(Said::Planned(p, _)) => ValueV1::Range(range(p)),
        Some(Said::YesNo(yes)) => ValueV1::YesNo(yes),
    }
}

impl<S: Tabled> TableV1<S> {
    fn of(table: &S) -> Self {
        Self { fields: table.values(), of: PhantomData }
    }
}

impl<S> Serialize for TableV1<S> {
    fn serialize<T: Serializer>(&self, to: T) -> Result<T::Ok, T::Error> {
        let mut map = to.serialize_map(Some(self.fields.len()))?;
        for (name, value) in &self.fields {
            map.serialize_entry(name, value)?;
        }
        map.end()
    }
}

impl<S: Tabled> JsonSchema for TableV1<S> {
    fn schema_name() -> Cow<'static, str> {
        S::SCHEMA.0.into()
    }

    fn json_schema(generator: &mut SchemaGenerator) -> Schema {
        let fields = S::fields();
        let required: Vec<&str> = fields.iter().map(|(name, ..)| *name).collect();
        let mut properties = serde_json::Map::new();
        for (name, told, typed) in &fields {
            let mut schema = typed(generator);
            schema.insert("description".to_owned(), told.clone().into());
            properties.insert((*name).to_owned(), schema.to_value());
        }
        let what = S::SCHEMA.1;
        json_schema!({
            "description": what,
            "type": "object",
            "properties": properties,
            "required": required
        })
    }
}

fn real(value: Option<f64>) -> Option<f64> {
    value.and_then(number)
}

fn moment(m: Moment) -> String {
    format!("{}{}", m.civil.iso(fraction(m.civil)), utc_offset(m.offset_min))
}

fn range(p: Planned) -> RangeV1 {
    let (from, to) = match p {
        Planned::Fixed(v) => (v, v),
        Planned::Between(a, b) => (a, b),
    };
    RangeV1 { from: number(from), to: number(to) }
}

fn hours(h: &DailyHours) -> HoursV1 {
    let clock = |s: u32| format!("{:02}:{:02}:{:02}", s / 3600, s / 60 % 60, s % 60);
    HoursV1 { from: clock(h.from_s), to: clock(h.to_s) }
}

fn part(p: &Part) -> PartV1 {
    let (from_frame, from, from_file) = match &p.from {
        PartStart::Frame(frame) => (Some(*frame), None, None),
        PartStart::Moment(m) => (None, Some(moment(*m)), None),
        PartStart::File(name) => (None, None, Some(name.clone())),
    };
    let (interval_s, note) = (real(p.interval_s), p.note.clone());
    let direction = p.direction.map(|way| way.written().to_owned());
    PartV1 { from_frame, from, from_file, interval_s, exposure: TableV1::of(&p.exposure), direction, note }
}

fn accepted(a: &Accepted) -> AcceptedV1 {
    AcceptedV1 {
        check: a.check.clone(),
        at: a.at.map(moment),
        file: a.file.clone(),
        count: a.count,
        reason: a.reason.clone(),
    }
}

/// The plan as it is told.
pub(crate) fn told(p: &Plan) -> PlanV1 {
    let levels = |keys: &BTreeMap<String, f64>| keys.iter().map(|(k, v)| (k.clone(), number(*v))).collect();
    PlanV1 {
        top: TableV1::of(p),
        exposure: TableV1::of(&p.exposure),
        rig: TableV1::of(&p.rig),
        card: TableV1::of(&p.card),
        delivery: TableV1::of(&(p.delivery.clone(), p.document.clone())),
        parts: p.parts.iter().map(part).collect(),
        accepted: p.accepted.iter().map(accepted).collect(),
        tolerances: p.tolerances.iter().map(|(check, keys)| (check.clone(), levels(keys))).collect(),
    }
}
