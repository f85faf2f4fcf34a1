//! A card that fills while it is read: each look reads what is new alone.

use super::across::pair_across;
use super::neighbours;
use super::picture::{Pictures, Thin};
use super::read::{FileRead, Gathered, STRIP, STRIPS_WITH_PICTURES, readers};
use super::row::Frames;
use crate::card::{Card, Shot};
use std::collections::{HashMap, HashSet};
use std::path::PathBuf;
use std::sync::atomic::AtomicBool;

/// A shot as it was when it was read: its files and their sizes. One that grew since is read again.
type Known = Vec<(PathBuf, u64)>;

/// A shot that was read, and how often.
struct Kept {
    read: FileRead,
    times: u32,
}

/// So often a damaged shot is read that does not grow: it may not have been whole yet. Then it is damaged.
const TRIES: u32 = 4;

/// What was read so far of a card that fills.
#[derive(Default)]
pub struct Again {
    pictures: Pictures,
    jobs: Option<usize>,
    read: HashMap<Known, Kept>,
    /// The picture of the last shot that was read, for the one behind it.
    last: Option<(Known, Thin)>,
}

impl Again {
    /// Nothing yet. `jobs` as in [`read_until`](super::read_until).
    pub fn new(pictures: Pictures, jobs: Option<usize>) -> Self {
        Self { pictures, jobs, ..Self::default() }
    }

    /// The frames of `card` as it is now, and how many shots were read for that. Damaged ones are read again
    /// a few times: they may not have been whole yet. So what is there is settled once a look reads nothing.
    /// Otherwise as [`read_until`](super::read_until).
    pub fn look(&mut self, card: Card, progress: &(dyn Fn(u64) + Sync), stop: &AtomicBool) -> (Frames, u64) {
        let keys: Vec<Known> = card.shots.iter().map(|shot| key(&card, shot)).collect();
        let settled = |kept: &Kept| is_whole(&kept.read) || kept.times >= TRIES;
        let new: Vec<bool> = keys.iter().map(|key| !self.read.get(key).is_some_and(settled)).collect();
        let (workers, reader) = readers(&card, self.jobs, self.pictures, progress, stop);
        let mut at = 0;
        while at < keys.len() {
            if !new[at] {
                at += 1;
                continue;
            }
            let end =
                (at..keys.len()).take(STRIP * STRIPS_WITH_PICTURES).take_while(|n| new[*n]).count() + at;
            let before = at.checked_sub(1).and_then(|before| keys.get(before));
            let last = self.last.take().filter(|(key, _)| before == Some(key)).map(|(_, thin)| thin);
            let strips = workers.run(|| reader.strips(&card.shots[at..end], last));
            let mut thin = None;
            let mut places = at..end;
            for mut strip in strips {
                thin = strip.last.take();
                for (read, place) in strip.reads.into_iter().zip(&mut places) {
                    let times = self.read.get(&keys[place]).map_or(0, |kept| kept.times) + 1;
                    self.read.insert(keys[place].clone(), Kept { read, times });
                }
            }
            self.last = thin.map(|thin| (keys[end - 1].clone(), thin));
            at = end;
        }
        let mut gathered = Gathered::with_room_for(&card, self.pictures);
        let kept = keys.iter().filter_map(|key| self.read.get(key));
        kept.for_each(|kept| gathered.take(kept.read.clone()));
        // What is gone from the card is not kept.
        let there: HashSet<&Known> = keys.iter().collect();
        self.read.retain(|key, _| there.contains(key));
        let mut frames = gathered.into_frames(card);
        neighbours::judge(&mut frames);
        pair_across(&mut frames);
        (frames, new.iter().filter(|new| **new).count() as u64)
    }
}

fn key(card: &Card, shot: &Shot) -> Known {
    shot.files().map(|file| (card.path_of(file), file.bytes)).collect()
}

fn is_whole(read: &FileRead) -> bool {
    !read.row.damage.is_some() && read.row.companion_damage().is_none() && read.trouble.is_empty()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::card::walk;
    use crate::frames::read_until;
    use std::path::Path;

    fn shoot(into: &Path, n: u32) {
        let picture = image::RgbImage::from_fn(64, 48, |x, y| image::Rgb([(x * 3 + n) as u8, y as u8, 40]));
        picture.save(into.join(format!("TIDE{n:04}.JPG"))).expect("a picture");
    }

    /// A card that filled meanwhile reads as one that was read at once, and no shot is read twice.
    #[test]
    fn only_what_is_new_is_read() {
        let dir = tempfile::tempdir().expect("a folder");
        let roots = [dir.path().to_path_buf()];
        let stop = AtomicBool::new(false);
        let mut again = Again::new(Pictures::Thumb, Some(2));
        let look = |again: &mut Again| again.look(walk(&roots), &|_| (), &stop);
        let mut shot = 0;
        for more in [3, 0, 1, 20] {
            (0..more).for_each(|n| shoot(dir.path(), shot + n));
            shot += more;
            let (frames, read) = look(&mut again);
            assert_eq!((frames.len() as u32, read as u32), (shot, more));
            let at_once = read_until(walk(&roots), Some(1), Pictures::Thumb, &|_| (), &stop);
            assert_eq!(frames.rows, at_once.rows);
            // Some figures of a first picture are no numbers, and these are not equal to themselves.
            assert_eq!(format!("{:?}", frames.looks), format!("{:?}", at_once.looks));
        }
        // A file that was cut short, and then is whole.
        let whole = std::fs::read(dir.path().join("TIDE0000.JPG")).expect("there");
        std::fs::write(dir.path().join("TIDE0099.JPG"), &whole[..whole.len() / 2]).expect("written");
        assert_eq!(look(&mut again).1, 1);
        let tries: Vec<u64> = (0..5).map(|_| look(&mut again).1).collect();
        assert_eq!(tries, [1, 1, 1, 0, 0], "it may not have been whole");
        std::fs::write(dir.path().join("TIDE0099.JPG"), &whole).expect("written");
        let (frames, read) = look(&mut again);
        assert_eq!((read, frames.rows.iter().filter(|r| r.damage.is_some()).count()), (1, 0));
        assert_eq!(look(&mut again).1, 0);
        std::fs::remove_file(dir.path().join("TIDE0002.JPG")).expect("removed");
        let (frames, read) = look(&mut again);
        assert_eq!((frames.len() as u32, read), (shot, 0));
    }
}
