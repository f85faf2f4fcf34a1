//! The pictures of a page. The audit itself holds none: they are fetched after it and handed in beside it.

use crate::audit::Audit;
use crate::outputs::report::shown::{REEL, around};
use base64::Engine as _;
use base64::engine::general_purpose::STANDARD;
use std::collections::BTreeMap;

/// JPEG bytes of a page at most: with their base64 they leave it below 3 MB.
const MOST_BYTES: usize = 1_900_000;

/// A picture, as JPEG without metadata.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Picture {
    /// Width, px.
    pub width: u32,
    /// Height, px.
    pub height: u32,
    /// JPEG bytes.
    pub jpeg: Vec<u8>,
}

impl Picture {
    /// As an address that holds the picture itself (RFC 2397).
    pub fn data(&self) -> String {
        format!("data:image/jpeg;base64,{}", STANDARD.encode(&self.jpeg))
    }
}

/// The pictures found, by position.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Gallery {
    /// Small ones.
    pub small: BTreeMap<usize, Picture>,
    /// Larger ones.
    pub large: BTreeMap<usize, Picture>,
}

/// No pictures: the client's page goes without.
pub static NO_PICTURES: Gallery = Gallery { small: BTreeMap::new(), large: BTreeMap::new() };

impl Gallery {
    /// True where there is none.
    pub fn is_empty(&self) -> bool {
        self.small.is_empty() && self.large.is_empty()
    }

    /// How the run-through has to be thinned for all to fit on a page that `share` cameras share: every
    /// picture, every second, every fourth …
    pub fn thinned(&self, audit: &Audit, share: usize) -> usize {
        let bytes = |p: &Picture| p.jpeg.len();
        let around = around(audit);
        let kept: usize = self.large.values().map(bytes).sum::<usize>()
            + around.iter().filter_map(|at| self.small.get(at)).map(bytes).sum::<usize>();
        let reel: usize =
            self.small.iter().filter(|(at, _)| !around.contains(at)).map(|(_, p)| bytes(p)).sum();
        let mut every = 1;
        while every < REEL && kept + reel / every > MOST_BYTES / share.max(1) {
            every *= 2;
        }
        every
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::outputs::sample;

    #[test]
    fn too_much_is_thinned() {
        let audit = sample::audit();
        let picture = |n: usize| Picture { width: 2, height: 1, jpeg: vec![0; n] };
        let mut gallery = Gallery::default();
        gallery.small.insert(1, picture(3_000_000));
        assert_eq!(gallery.thinned(&audit, 1), 2);
        gallery.small.insert(1, picture(10));
        assert_eq!(gallery.thinned(&audit, 1), 1);
    }
}
