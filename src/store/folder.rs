//! What is done in a folder that is written to: few calls, each on a name in the folder itself.

use std::fmt;
use std::io::{self, Write};

/// What stands under a name. Links are not followed: one is [`Kind::Other`].
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Kind {
    /// Nothing.
    Nothing,
    /// An ordinary file.
    File,
    /// A folder.
    Folder,
    /// A link, a device or the like.
    Other,
}

/// A file that is being written.
pub trait Output: Write + Send {
    /// Returns when all that was written will outlast a loss of power.
    ///
    /// # Errors
    /// What the system says.
    fn sync(&mut self) -> io::Result<()>;
}

/// A folder that is written to. A test stands in for the disk with one that fails.
///
/// Every `name` is a name in the folder, without a separator. Each call's errors are those of the system.
pub trait Folder: fmt::Debug + Send + Sync {
    /// A folder in this one, which is made where it is not there; a link in its place is an error.
    ///
    /// # Errors
    /// What the system says.
    fn inside(&self, name: &str) -> io::Result<Box<dyn Folder>>;

    /// A new file; one that is there is an error.
    ///
    /// # Errors
    /// What the system says.
    fn create(&self, name: &str) -> io::Result<Box<dyn Output>>;

    /// The bytes of a file of at most `most` bytes.
    ///
    /// # Errors
    /// What the system says; that the file is larger.
    fn read(&self, name: &str, most: u64) -> io::Result<Vec<u8>>;

    /// What stands under a name.
    ///
    /// # Errors
    /// What the system says.
    fn kind(&self, name: &str) -> io::Result<Kind>;

    /// Gives a file another name, in the place of what stands there.
    ///
    /// # Errors
    /// What the system says.
    fn rename(&self, from: &str, to: &str) -> io::Result<()>;

    /// The same, where nothing stands under the new name.
    ///
    /// # Errors
    /// What the system says; of kind *already exists* where something stands there.
    fn rename_new(&self, from: &str, to: &str) -> io::Result<()>;

    /// Takes a file away.
    ///
    /// # Errors
    /// What the system says.
    fn remove(&self, name: &str) -> io::Result<()>;

    /// Takes an empty folder away.
    ///
    /// # Errors
    /// What the system says.
    fn remove_folder(&self, name: &str) -> io::Result<()>;

    /// The names in it that are text, in order.
    ///
    /// # Errors
    /// What the system says.
    fn names(&self) -> io::Result<Vec<String>>;

    /// Returns when the names in it will outlast a loss of power.
    ///
    /// # Errors
    /// What the system says.
    fn sync(&self) -> io::Result<()>;
}
