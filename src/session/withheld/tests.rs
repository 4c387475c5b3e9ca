#![allow(clippy::unwrap_used)]

use std::fs;

use super::*;

fn private(text: &str) -> Private {
    Private { text: text.to_owned(), what: "it".to_owned(), is_name: false }
}

fn in_text(text: &str, values: &[&str]) -> String {
    let values: Vec<Private> = values.iter().map(|value| private(value)).collect();
    text::masked(text, &values.iter().collect::<Vec<_>>()).unwrap_or_else(|| text.to_owned())
}

fn in_yaml(source: &str) -> Result<Option<String>, ()> {
    let folder = tempfile::tempdir().unwrap();
    fs::write(folder.path().join("session.yaml"), source).unwrap();
    let mut list = Vec::new();
    values::gather(&Walls::around(folder.path()).unwrap(), &mut list);
    yaml::masked(source, &values::of_session, &list.iter().collect::<Vec<_>>())
}

#[test]
fn whole_words_are_found_in_capitals_over_lines_and_behind_backslashes() {
    let values = ["Weir Lane Tools", "CS10-04417", "$1,849.00"];
    for (text, masked) in [
        ("From Weir Lane Tools.", "From withheld."),
        ("from WEIR LANE\ntools, it", "from withheld\n, it"),
        ("Weir Lane Toolshed", "Weir Lane Toolshed"),
        ("no. CS10\\-04417", "no. withheld"),
        ("XCS10-04417 CS10-044171", "XCS10-04417 CS10-044171"),
        ("paid $1,849.00 for it", "paid withheld for it"),
        ("(CS10-04417)", "(withheld)"),
    ] {
        assert_eq!(in_text(text, &values), masked);
    }
}

#[test]
fn a_private_field_is_masked_however_it_is_written_and_nothing_else_changes() {
    for (before, after) in [
        ("prepared_by: R. Adeyemi # me", "prepared_by: withheld # me"),
        ("prepared_by: \"R. Adeyemi\"\ntitle: T", "prepared_by: withheld\ntitle: T"),
        ("prepared_by: |\n  R. Adeyemi\ntitle: T", "prepared_by: |\n  withheld\ntitle: T"),
        (
            "machines: {saw: {name: M, order: 20931, price: 12}}",
            "machines: {saw: {name: M, order: withheld, price: withheld}}",
        ),
        (
            "letter:\n  from: {name: 'O''Hara & Co', address: [4 Mill Row]}\n",
            "letter:\n  from: {name: withheld, address: [withheld]}\n",
        ),
        ("prepared_by: &me R. Adeyemi\nask: *me", "prepared_by: withheld\nask: \"withheld\""),
    ] {
        assert_eq!(in_yaml(before).unwrap().as_deref(), Some(after), "{before}");
    }
}

#[test]
fn other_texts_keys_and_comments_are_masked_and_numbers_are_not() {
    let before = "prepared_by: R. O'Hara\nmachines: {m: {serial: 20931}}\n# bought by R. O'Hara\ntitle: 'The saw of R. O''Hara'\n\
                  ask: \"from R. O\\u0027Hara, 20931\"\nchecks:\n  a: {procedure: >\n    said R.\n    O'Hara\n  , n: 20931, R. O'Hara: 1}\n";
    let after = in_yaml(before).unwrap().unwrap();
    assert!(!after.contains("Hara"), "{after}");
    assert!(after.contains("n: 20931") && after.contains("# bought by withheld"), "{after}");
    assert!(
        after.contains("from withheld, withheld") && after.contains("\"The saw of withheld\""),
        "{after}"
    );
}

#[test]
fn a_price_is_found_in_its_usual_other_spellings() {
    let folder = tempfile::tempdir().unwrap();
    fs::write(folder.path().join("session.yaml"), "machines: {saw: {price: \"$1,849.00\"}}").unwrap();
    let mut list = Vec::new();
    values::gather(&Walls::around(folder.path()).unwrap(), &mut list);
    let texts: Vec<&str> = list.iter().map(|value| value.text.as_str()).collect();
    for text in ["$1,849.00", "$1849.00", "1,849.00", "$1,849", "$1849", "1,849"] {
        assert!(texts.contains(&text), "{text} is not in {texts:?}");
    }
    assert!(!texts.contains(&"1849"), "that may be a speed");
}

#[test]
fn a_table_keeps_its_encoding_and_its_numbers() {
    let folder = tempfile::tempdir().unwrap();
    let write = |name: &str, bytes: &[u8]| fs::write(folder.path().join(name), bytes).unwrap();
    write("session.yaml", b"prepared_by: R. Adeyemi\nmachines: {saw: {order: 20931}}");
    write("a.csv", b"# R. Adeyemi, 66 \xb0F\nt;20931\n1;20931\n");
    let wide: Vec<u8> = "\u{feff}R. Adeyemi;µ".encode_utf16().flat_map(u16::to_le_bytes).collect();
    write("b.csv", &wide);
    write("c.wav", b"RIFF....R. Adeyemi");
    write("d.md", b"order 20931");
    let mut problems = Problems::default();
    let masks = withhold(folder.path(), &mut problems).unwrap();
    assert!(!problems.any_error());
    let root = folder.path().canonicalize().unwrap();
    let read = |name: &str| masks.copy_of(&root.join(name)).map(|copy| fs::read(copy).unwrap());
    assert_eq!(read("a.csv").unwrap(), b"# withheld, 66 \xb0F\nt;20931\n1;20931\n");
    let wide: Vec<u8> = "\u{feff}withheld;µ".encode_utf16().flat_map(u16::to_le_bytes).collect();
    assert_eq!(read("b.csv").unwrap(), wide);
    assert_eq!(read("c.wav"), None);
    assert_eq!(read("d.md").unwrap(), b"order withheld");
}

#[test]
fn a_private_value_in_a_file_s_name_is_refused_and_a_short_one_is_spoken_of() {
    let folder = tempfile::tempdir().unwrap();
    fs::write(folder.path().join("session.yaml"), "machines: {saw: {serial: CS10-04417, order: W1}}")
        .unwrap();
    fs::write(folder.path().join("plate-cs10-04417.txt"), "").unwrap();
    let mut problems = Problems::default();
    withhold(folder.path(), &mut problems).unwrap();
    let said: Vec<String> = problems.iter().map(|problem| problem.message.clone()).collect();
    assert!(
        said.iter().any(|text| text.contains("'plate-cs10-04417.txt' has a private value in its name")),
        "{said:?}"
    );
    assert!(said.iter().any(|text| text.contains("'W1' (order of saw) is too short")), "{said:?}");
}

#[test]
fn a_surname_that_stands_alone_is_pointed_out_with_its_line_and_the_maker_s_name_is_not() {
    let folder = tempfile::tempdir().unwrap();
    let write = |name: &str, text: &str| fs::write(folder.path().join(name), text).unwrap();
    write(
        "session.yaml",
        "prepared_by: R. Adeyemi\nmachines: {saw: {name: Marlstone CS-10}}\nletter: {to: {name: Marlstone service desk}}",
    );
    write("notes.md", "A Marlstone.\n\nR. Adeyemi's, or Adeyemi's saw; a desk.\n");
    let mut problems = Problems::default();
    withhold(folder.path(), &mut problems).unwrap();
    let said: Vec<String> = problems.iter().map(|problem| problem.message.clone()).collect();
    assert_eq!(
        said,
        [
            "notes.md, line 3: 'Adeyemi' stands there, which is part of a name that is withheld (who prepared it)"
        ]
    );
}

mod any {
    use proptest::prelude::*;

    use super::super::{text, values::Private, yaml};
    use super::in_yaml;

    proptest! {
        /// However a name is quoted, folded or commented, it is gone afterwards, or the file is refused.
        #[test]
        fn a_name_is_gone_or_the_file_is_refused(
            name in "[A-Z][a-z']{3,6} [A-Z][a-z#:]{3,6}",
            around in "[ -~\n]{0,20}",
            style in 0_usize..4,
        ) {
            let quoted = match style {
                0 => format!("'{}'", name.replace('\'', "''")),
                1 => format!("\"{name}\""),
                2 => format!(">-\n  {name}"),
                _ => name.clone(),
            };
            let source = format!("prepared_by: {quoted}\nask: {}\n", serde_yaml::to_string(&format!("{around} {name}")).unwrap().trim_end());
            if yaml::is_faulty(&source) { return Ok(()); }
            if let Ok(Some(after)) = in_yaml(&source) {
                let value = Private { text: name, what: String::new(), is_name: false };
                let read: serde_yaml::Value = serde_yaml::from_str(&after).unwrap();
                let asked = read["ask"].as_str().unwrap_or_default().to_owned();
                prop_assert!(text::found(&text::Folded::of(&asked), &[&value]).is_empty(), "{}", after);
                prop_assert_eq!(read["prepared_by"].as_str(), Some("withheld"));
            }
        }

        #[test]
        fn any_text_is_taken(source in "\\PC{0,80}", value in "\\PC{1,12}") {
            let value = Private { text: value, what: String::new(), is_name: false };
            let _ = text::masked(&source, &[&value]);
            let _ = yaml::masked(&source, &super::values::of_session, &[&value]);
        }
    }
}
