//! A record compared with a JSON Schema (draft 2020-12): the keywords that the schema of `audit.json` uses. A
//! keyword it does not know fails, so that nothing passes unseen. A key that the schema does not name fails
//! too.

use serde_json::{Map, Value};

/// Everything that is wrong with `value`, each with its place.
pub fn wrong(schema: &Value, value: &Value) -> Vec<String> {
    let mut told = Vec::new();
    hold(schema, schema, value, "$", &mut told);
    told
}

/// Keywords that say nothing about a value.
const SAYS_NOTHING: [&str; 6] = ["$schema", "$defs", "title", "description", "format", "$comment"];

fn hold(root: &Value, schema: &Value, value: &Value, at: &str, told: &mut Vec<String>) {
    let rules = match schema {
        Value::Bool(true) => return,
        Value::Object(rules) => rules,
        other => panic!("{at}: {other} is no schema that this reader knows"),
    };
    for (keyword, rule) in rules {
        match keyword.as_str() {
            "$ref" => {
                let name = rule.as_str().and_then(|r| r.strip_prefix("#/$defs/")).expect("a place in $defs");
                hold(root, &root["$defs"][name], value, at, told);
            }
            "type" => {
                let types: Vec<&str> = match rule {
                    Value::Array(all) => all.iter().filter_map(Value::as_str).collect(),
                    one => one.as_str().into_iter().collect(),
                };
                if !types.iter().any(|t| is(value, t)) {
                    told.push(format!("{at} is {value} and not {}", types.join(" or ")));
                }
            }
            "minimum" => {
                if value.as_f64().is_some_and(|v| v < rule.as_f64().expect("a number")) {
                    told.push(format!("{at} is {value}, below {rule}"));
                }
            }
            "maximum" => {
                if value.as_f64().is_some_and(|v| v > rule.as_f64().expect("a number")) {
                    told.push(format!("{at} is {value}, above {rule}"));
                }
            }
            "items" => {
                for (i, item) in value.as_array().into_iter().flatten().enumerate() {
                    hold(root, rule, item, &format!("{at}[{i}]"), told);
                }
            }
            "required" => {
                let Some(object) = value.as_object() else { continue };
                for key in rule.as_array().expect("a list").iter().filter_map(Value::as_str) {
                    if !object.contains_key(key) {
                        told.push(format!("{at} has no {key}"));
                    }
                }
            }
            "properties" => keys(root, rules, value, at, told),
            "additionalProperties" => {
                for (key, inner) in value.as_object().into_iter().flatten() {
                    if rules.get("properties").is_none_or(|p| p.get(key).is_none()) {
                        hold(root, rule, inner, &format!("{at}.{key}"), told);
                    }
                }
            }
            "anyOf" => {
                let forms = rule.as_array().expect("a list");
                let fits = forms.iter().any(|form| {
                    let mut tried = Vec::new();
                    hold(root, form, value, at, &mut tried);
                    tried.is_empty()
                });
                if !fits {
                    told.push(format!("{at} is {value} and fits none of the forms"));
                }
            }
            known if SAYS_NOTHING.contains(&known) => {}
            unknown => panic!("{at}: the keyword {unknown} is not known to this reader"),
        }
    }
}

fn keys(root: &Value, rules: &Map<String, Value>, value: &Value, at: &str, told: &mut Vec<String>) {
    for (key, inner) in value.as_object().into_iter().flatten() {
        match rules["properties"].get(key) {
            Some(rule) => hold(root, rule, inner, &format!("{at}.{key}"), told),
            None if rules.contains_key("additionalProperties") => {}
            None => told.push(format!("{at}.{key} is not in the schema")),
        }
    }
}

fn is(value: &Value, kind: &str) -> bool {
    match kind {
        "null" => value.is_null(),
        "boolean" => value.is_boolean(),
        "string" => value.is_string(),
        "array" => value.is_array(),
        "object" => value.is_object(),
        "number" => value.is_number(),
        "integer" => value.is_i64() || value.is_u64(),
        other => panic!("{other} is no type"),
    }
}
