use std::fs;
use std::path::Path;
use std::time::{Duration, SystemTime};

use super::{Seen, Store};

/// A session of two files, and a folder of outputs beside it.
fn shop() -> tempfile::TempDir {
    let home = tempfile::tempdir().unwrap();
    fs::create_dir_all(home.path().join("saw/visits/a")).unwrap();
    fs::write(home.path().join("saw/session.yaml"), "title: a\n").unwrap();
    fs::write(home.path().join("saw/visits/a/visit.yaml"), "date: 1\n").unwrap();
    home
}

fn store(home: &Path) -> Store<u32> {
    Store::open(&home.join("out"), "rows")
}

fn keep(home: &Path, made: u32) {
    let (store, seen) = (store(home), Seen::now(&home.join("saw")).unwrap());
    store.put(seen.digested(), &made);
    store.save();
}

/// What is still known, asked by a later run.
fn known(home: &Path) -> Option<u32> {
    let store = store(home);
    let known = store.of(&Seen::now(&home.join("saw")).unwrap(), |_| true);
    store.save();
    known
}

fn set_time(path: &Path, then: SystemTime) {
    fs::File::options().append(true).open(path).unwrap().set_modified(then).unwrap();
}

#[test]
fn what_has_not_changed_is_known_and_what_has_is_not() {
    let home = shop();
    assert_eq!(known(home.path()), None);
    keep(home.path(), 7);
    assert_eq!(known(home.path()), Some(7));
    let visit = home.path().join("saw/visits/a/visit.yaml");
    // The same bytes under another time.
    set_time(&visit, SystemTime::now() - Duration::from_mins(1));
    assert_eq!(known(home.path()), Some(7));
    // As many other bytes, and the time set back to what it was.
    let then = fs::metadata(&visit).unwrap().modified().unwrap();
    fs::write(&visit, "date: 2\n").unwrap();
    set_time(&visit, then);
    assert_eq!(known(home.path()), None);
}

#[test]
fn a_file_more_a_file_less_and_a_folder_more_are_changes() {
    let home = shop();
    keep(home.path(), 7);
    let more = home.path().join("saw/.hidden.csv");
    fs::write(&more, "1").unwrap();
    assert_eq!(known(home.path()), None);
    fs::remove_file(&more).unwrap();
    assert_eq!(known(home.path()), Some(7));
    // A visit that has no file yet is an error of the session.
    fs::create_dir(home.path().join("saw/visits/b")).unwrap();
    assert_eq!(known(home.path()), None);
    fs::remove_dir(home.path().join("saw/visits/b")).unwrap();
    fs::remove_file(home.path().join("saw/visits/a/visit.yaml")).unwrap();
    assert_eq!(known(home.path()), None);
}

#[test]
fn another_session_that_is_looked_for_counts_whether_it_is_there_or_not() {
    let home = shop();
    let (other, none) = (home.path().join("old-saw"), std::collections::BTreeMap::new());
    let (store, seen) = (store(home.path()), Seen::now(&home.path().join("saw")).unwrap());
    store.put(seen.digested().and(&other, &none).unwrap(), &7);
    store.save();
    assert_eq!(known(home.path()), Some(7));
    fs::create_dir(&other).unwrap();
    assert_eq!(known(home.path()), Some(7), "an empty folder is no session either");
    fs::write(other.join("session.yaml"), "title: b\n").unwrap();
    assert_eq!(known(home.path()), None);
    // It was saved just now: whether these are the bytes that were read nobody can say.
    assert!(Seen::now(&home.path().join("saw")).unwrap().digested().and(&other, &none).is_none());
}

#[test]
fn runs_that_end_at_once_lose_nothing_of_each_other() {
    let home = shop();
    let names: Vec<String> = (0..8).map(|index| format!("s{index}")).collect();
    for name in &names {
        fs::create_dir(home.path().join(name)).unwrap();
        fs::write(home.path().join(name).join("session.yaml"), name).unwrap();
    }
    std::thread::scope(|scope| {
        for name in &names {
            let home = home.path();
            scope.spawn(move || {
                let (store, seen) = (store(home), Seen::now(&home.join(name)).unwrap());
                store.put(seen.digested(), &1);
                store.save();
            });
        }
    });
    let (all, at) = (store(home.path()), |name: &str| Seen::now(&home.path().join(name)).unwrap());
    for name in &names {
        assert_eq!(all.of(&at(name), |_| true), Some(1), "{name}");
    }
    // What is gone is forgotten at the next writing.
    fs::remove_dir_all(home.path().join("s3")).unwrap();
    keep(home.path(), 2);
    let text = fs::read_to_string(home.path().join("out/.built/rows")).unwrap();
    assert!(!text.contains("/s3\"") && text.contains("/s4\""), "{text}");
}

#[test]
fn nonsense_in_the_file_is_nothing_known_and_is_written_over() {
    let home = shop();
    keep(home.path(), 7);
    let file = home.path().join("out/.built/rows");
    let whole = fs::read_to_string(&file).unwrap();
    let half = &whole[..whole.len() / 2];
    for nonsense in [
        "",
        "\n",
        "asfound kept 1",
        "asfound kept 1\n\t\n\"",
        half,
        &whole.replace("kept 1", "kept 0"),
        "\u{0}",
    ] {
        fs::write(&file, nonsense).unwrap();
        assert_eq!(known(home.path()), None, "{nonsense:?}");
        keep(home.path(), 8);
        assert_eq!(known(home.path()), Some(8), "{nonsense:?}");
    }
}

#[test]
fn nothing_is_kept_in_a_folder_of_outputs_that_lies_in_a_session() {
    let home = shop();
    let store: Store<u32> = Store::open(&home.path().join("saw/out"), "rows");
    store.put(Seen::now(&home.path().join("saw")).unwrap().digested(), &7);
    store.save();
    assert!(!home.path().join("saw/out").exists());
}

#[cfg(unix)]
#[test]
fn a_link_counts_as_what_it_leads_to_and_one_that_leads_nowhere_as_itself() {
    let home = shop();
    let link = home.path().join("saw/notes.md");
    std::os::unix::fs::symlink(home.path().join("notes"), &link).unwrap();
    keep(home.path(), 7);
    assert_eq!(known(home.path()), Some(7));
    fs::write(home.path().join("notes"), "now it leads somewhere").unwrap();
    assert_eq!(known(home.path()), None);
    keep(home.path(), 8);
    fs::write(home.path().join("notes"), "and now to other letter").unwrap();
    assert_eq!(known(home.path()), None);
}
