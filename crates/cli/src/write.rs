//! Writing files: the only place that makes one.
//!
//! All targets are looked at before the work begins; then all texts are written to temporary files
//! beside them, and only when every one is safe on the disk do they take their names. So a file appears
//! whole or not at all, and what was there before stays whole until then. Only a log grows where it stands.

use super::exit::Failure;
use super::files;
use same_file::Handle;
use std::fs::{self, File, Metadata, OpenOptions, TryLockError};
use std::io::{self, BufWriter, ErrorKind, Read, Write};
use std::path::{Path, PathBuf};
use tempfile::{Builder, NamedTempFile};

/// What is written, and the ending of its files.
pub type Form = (&'static str, &'static str);
pub const CHART: Form = ("a chart", "svg");
pub const CALENDAR: Form = ("a calendar", "ics");
pub const SHEET: Form = ("a sheet", "html");
/// Endings that promise a form.
const PROMISES: [&str; 11] = [
    "svg", "png", "jpg", "jpeg", "gif", "webp", "pdf", "ics", "html", "csv", "toml",
];

/// A file that may be written.
#[derive(Debug)]
pub struct Target {
    /// As the user wrote it.
    name: String,
    /// Links followed, so that the file behind one is replaced and not the link.
    path: PathBuf,
    folder: PathBuf,
    /// What is to be replaced.
    old: Option<Metadata>,
    force: bool,
}

impl Target {
    /// Looks whether a file may be written; what exists is replaced by `force` only.
    pub fn new(path: &Path, force: bool) -> Result<Self, Failure> {
        let name = path.display().to_string();
        let fault = |why: &str| Err(Failure::File(format!("{name}: {why}")));
        let old = match fs::metadata(path) {
            Ok(about) => Some(about),
            Err(e) if e.kind() == ErrorKind::NotFound => None,
            Err(e) => return fault(&format!("it cannot be written: {e}")),
        };
        match &old {
            Some(about) if about.is_dir() => return fault("it is a directory; name a file in it"),
            Some(about) if !about.is_file() => {
                return fault("it is no ordinary file; name another");
            }
            Some(_) if !force => return Err(exists(&name)),
            Some(about) if about.permissions().readonly() => {
                return fault("it may not be written; change its permissions");
            }
            None if path.is_symlink() => return fault("it is a link that leads nowhere"),
            _ => {}
        }
        let real = fs::canonicalize(path).unwrap_or_else(|_| path.to_owned());
        let Some(file) = real.file_name() else {
            return fault("it names no file");
        };
        let parent = real.parent().filter(|parent| *parent != Path::new(""));
        let folder = parent.unwrap_or(Path::new("."));
        match fs::canonicalize(folder) {
            Ok(folder) if folder.is_dir() => Ok(Self {
                path: folder.join(file),
                name,
                folder,
                old,
                force,
            }),
            _ => {
                let folder = folder.display();
                fault(&format!("there is no folder {folder}; make it first"))
            }
        }
    }

    /// The same for a file of a form, if one is wanted. A name that promises another form is refused.
    pub fn of_form(
        path: &Option<PathBuf>,
        force: bool,
        form: Form,
    ) -> Result<Option<Self>, Failure> {
        let Some(path) = path else { return Ok(None) };
        let (what, ending) = form;
        let is = |other: &str| (path.extension()).is_some_and(|e| e.eq_ignore_ascii_case(other));
        if is(ending) || !PROMISES.into_iter().any(is) {
            return Self::new(path, force).map(Some);
        }
        let (name, form) = (path.display(), ending.to_uppercase());
        Err(Failure::Input(format!(
            "{name}: {what} is written as {form}; name a file that ends in .{ending}"
        )))
    }

    /// What hinders the writing.
    pub fn fault(&self, error: &io::Error) -> Failure {
        let why = match error.kind() {
            ErrorKind::AlreadyExists => return exists(&self.name),
            ErrorKind::PermissionDenied => {
                "its folder may not be written to; change its permissions".to_owned()
            }
            ErrorKind::StorageFull => "the disk is full; nothing was changed".to_owned(),
            _ => format!("it cannot be written: {error}; nothing was changed"),
        };
        Failure::File(format!("{}: {why}", self.name))
    }

    /// Writes the file piece by piece, whole or not at all.
    pub fn stream(
        &self,
        write: impl FnOnce(BufWriter<&File>) -> Result<(), Failure>,
    ) -> Result<(), Failure> {
        self.name_it(self.staged(write)?)
    }

    /// What is written, safe on the disk but without its name. Nothing is written over what was read.
    fn staged(
        &self,
        write: impl FnOnce(BufWriter<&File>) -> Result<(), Failure>,
    ) -> Result<NamedTempFile, Failure> {
        let is_input =
            |file: &Handle| files::is_read(file) || Handle::stdin().is_ok_and(|i| i == *file);
        if Handle::from_path(&self.path).is_ok_and(|file| is_input(&file)) {
            return Err(self.in_use());
        }
        let file = self.beside().map_err(|e| self.fault(&e))?;
        write(BufWriter::new(file.as_file()))?;
        file.as_file().sync_all().map_err(|e| self.fault(&e))?;
        Ok(file)
    }

    /// A locked file beside the target. Dropping it takes it away again.
    fn beside(&self) -> io::Result<NamedTempFile> {
        sweep(&self.folder);
        let mut builder = Builder::new();
        builder.prefix(PART.0).suffix(PART.1).rand_bytes(PART.2);
        // As open as any new file: the mask of the user takes away what is not wanted.
        #[cfg(unix)]
        builder.permissions(std::os::unix::fs::PermissionsExt::from_mode(0o666));
        let file = loop {
            let file = builder.tempfile_in(&self.folder)?;
            // Another run may have swept it away before it was locked.
            let is_swept = matches!(file.as_file().try_lock(), Err(TryLockError::WouldBlock));
            if !is_swept && file.path().exists() {
                break file;
            }
        };
        if let Some(old) = &self.old {
            file.as_file().set_permissions(old.permissions())?;
        }
        Ok(file)
    }

    fn in_use(&self) -> Failure {
        let name = &self.name;
        Failure::Input(format!(
            "{name}: this file is already in use here; name another"
        ))
    }

    /// Gives a file that is safe on the disk its name.
    fn name_it(&self, file: NamedTempFile) -> Result<(), Failure> {
        // What has come into being since the look stays, too.
        let named = match self.force {
            true => file.persist(&self.path),
            false => file.persist_noclobber(&self.path),
        };
        named.map_err(|e| self.fault(&e.error))?;
        // The name itself goes down to the disk with its folder; not every system can do that.
        let _ = File::open(&self.folder).and_then(|folder| folder.sync_all());
        Ok(())
    }
}

fn exists(name: &str) -> Failure {
    Failure::Input(format!(
        "{name}: the file exists; name another, or replace it with --force"
    ))
}

/// How the name of an unfinished file begins and ends, and how many letters stand between.
const PART: (&str, &str, usize) = (".pointage-", ".part", 12);

/// Takes away the unfinished files of runs that were killed: those of living ones are locked.
fn sweep(folder: &Path) {
    for entry in fs::read_dir(folder).into_iter().flatten().flatten() {
        let name = entry.file_name();
        let name = name.to_str().and_then(|name| name.strip_prefix(PART.0));
        let letters = name.and_then(|name| name.strip_suffix(PART.1));
        let is_part = letters.is_some_and(|letters| letters.len() == PART.2);
        let file = OpenOptions::new().write(true).open(entry.path());
        if is_part
            && let Ok(file) = file
            && file.try_lock().is_ok()
        {
            let _ = fs::remove_file(entry.path());
        }
    }
}

/// A file to whose end text is added: its byte-order mark, line ends, owner, mode and links stay as they are. Until it
/// is dropped no other run of this program adds to it, by whatever name that run knows it.
pub struct GrowingFile {
    target: Target,
    file: File,
    /// Why nobody waits, on a file system that has no locks.
    pub unlocked: Option<io::Error>,
}

impl GrowingFile {
    /// Waits until it may be changed; makes it where there is none.
    pub fn open(path: &Path) -> Result<Self, Failure> {
        let target = Target::new(path, true)?;
        let mut options = OpenOptions::new();
        options.read(true).append(true).create(true);
        loop {
            let open = || -> io::Result<_> {
                let file = options.open(&target.path)?;
                let unlocked = file.lock().err();
                Ok((Handle::from_file(file.try_clone()?)?, file, unlocked))
            };
            let (handle, file, unlocked) = open().map_err(|e| target.fault(&e))?;
            // Another file may have taken its name while this run waited.
            if Handle::from_path(&target.path).is_ok_and(|named| named == handle) {
                return Ok(Self {
                    target,
                    file,
                    unlocked,
                });
            }
        }
    }

    /// What stands in it; nothing in a new one.
    pub fn text(&self, most: u64) -> Result<String, Failure> {
        let fault = |e: io::Error| self.target.fault(&e);
        let mut bytes = Vec::new();
        let read = (&self.file).take(most + 1).read_to_end(&mut bytes);
        read.map_err(fault)?;
        match bytes[..] {
            [] => Ok(String::new()),
            [0xff, 0xfe, ..] | [0xfe, 0xff, ..] => Err(Failure::Input(format!(
                "{}: nothing was added; it is UTF-16: save it as UTF-8 first",
                self.target.name
            ))),
            _ => files::text(&bytes[..], Path::new(&self.target.name), most),
        }
    }

    /// Adds text, safe on the disk. Where that fails, the file is as long as before.
    pub fn add(&mut self, text: &str) -> Result<(), Failure> {
        let before = self.file.metadata().map(|about| about.len());
        let added = self.file.write_all(text.as_bytes());
        added.and_then(|()| self.file.sync_all()).map_err(|e| {
            let _ = before.and_then(|length| self.file.set_len(length));
            self.target.fault(&e)
        })
    }
}

/// Refuses to write two of several outputs to one file.
pub fn apart<'a>(targets: impl IntoIterator<Item = &'a Option<Target>>) -> Result<(), Failure> {
    let mut used: Vec<&Path> = Vec::new();
    for target in targets.into_iter().flatten() {
        if used.contains(&target.path.as_path()) {
            return Err(target.in_use());
        }
        used.push(&target.path);
    }
    Ok(())
}

/// Writes files, whole or not at all, and gives their names.
pub fn all(files: &[(&Target, String)]) -> Result<Vec<String>, Failure> {
    let staged = files.iter().map(|(target, text)| {
        let write = |mut file: BufWriter<&File>| {
            let written = file.write_all(text.as_bytes()).and_then(|()| file.flush());
            written.map_err(|e| target.fault(&e))
        };
        Ok((*target, target.staged(write)?))
    });
    let staged: Vec<(&Target, NamedTempFile)> = staged.collect::<Result<_, Failure>>()?;
    for (target, file) in staged {
        target.name_it(file)?;
    }
    Ok(files.iter().map(|file| file.0.name.clone()).collect())
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;

    fn names(folder: &Path) -> Vec<String> {
        let mut names: Vec<String> = fs::read_dir(folder)
            .unwrap()
            .map(|e| e.unwrap().file_name().into_string().unwrap())
            .collect();
        names.sort();
        names
    }

    #[test]
    fn nothing_is_overwritten_unasked_and_nothing_is_left_behind() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("bake.ics");
        all(&[(&Target::new(&path, false).unwrap(), "one".into())]).unwrap();
        assert!(Target::new(&path, false).is_err());
        assert!(Target::new(folder.path(), true).is_err());
        assert!(Target::new(&folder.path().join("no/bake.ics"), true).is_err());

        // Made by someone else between the look and the writing.
        let other = folder.path().join("other");
        let target = Target::new(&other, false).unwrap();
        fs::write(&other, "theirs").unwrap();
        assert!(all(&[(&target, "ours".into())]).is_err());
        assert_eq!(fs::read_to_string(&other).unwrap(), "theirs");

        all(&[(&Target::new(&path, true).unwrap(), "two".into())]).unwrap();
        assert_eq!(fs::read_to_string(&path).unwrap(), "two");
        assert_eq!(names(folder.path()), ["bake.ics", "other"]);
    }

    #[test]
    fn the_same_file_is_known_by_any_name() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("bake.toml");
        fs::write(&path, "").unwrap();
        let detour = folder.path().join(".").join("bake.toml");
        let (a, b) = (Target::new(&path, true), Target::new(&detour, true));
        let targets = [Some(a.unwrap()), Some(b.unwrap())];
        assert!(apart(&targets).is_err() && apart(&targets[1..]).is_ok());
    }

    #[test]
    fn what_was_read_is_not_written_over_by_any_name() {
        let folder = tempfile::tempdir().unwrap();
        let (path, other) = (folder.path().join("in.csv"), folder.path().join("out.csv"));
        fs::write(&path, "kept").unwrap();
        files::read(&path, 10).unwrap();
        fs::hard_link(&path, &other).unwrap();
        for name in [&path, &other] {
            let target = Target::new(name, true).unwrap();
            assert!(all(&[(&target, "ours".into())]).is_err());
        }
        assert_eq!(fs::read_to_string(&other).unwrap(), "kept");
        assert_eq!(names(folder.path()), ["in.csv", "out.csv"]);
    }

    /// What a killed run leaves goes with the next one; what a living run writes, or somebody else, stays.
    #[test]
    fn unfinished_files_are_swept() {
        let folder = tempfile::tempdir().unwrap();
        let part = |letter: &str| format!(".pointage-{}.part", letter.repeat(12));
        for name in [part("a"), part("b"), ".pointage-b.part".into()] {
            fs::write(folder.path().join(name), "").unwrap();
        }
        let living = File::open(folder.path().join(part("b"))).unwrap();
        living.lock().unwrap();
        let target = Target::new(&folder.path().join("x"), false).unwrap();
        all(&[(&target, "x".into())]).unwrap();
        let left = [".pointage-b.part".to_owned(), part("b"), "x".to_owned()];
        assert_eq!(names(folder.path()), left);
    }
}
