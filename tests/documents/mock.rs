//! A view model made by hand. Its numbers are invented and prove nothing but the page.

use asfound::compose::document::*;
use asfound::typeset::fonts;

pub(crate) const HOSTILE: &str = "#panic() {{ x }} {% y %} \"quoted\" \\back\\ [*b*] $m$ <l> @r `c` // עברית العربية 测量 😀 \u{7}\u{202e}";

fn text(s: &str) -> String {
    s.to_owned()
}

fn number(value: &str, plus_minus: &str, unit: &str) -> Number {
    let plus_minus = (!plus_minus.is_empty()).then(|| plus_minus.to_owned());
    Number { value: value.to_owned(), plus_minus, unit: unit.to_owned() }
}

fn fact(label: &str, value: &str) -> Fact {
    Fact { label: text(label), value: text(value) }
}

fn summary_row(
    place: &str,
    before: [&str; 3],
    after: [&str; 3],
    change: [&str; 2],
    limit: &str,
    end: &str,
) -> SummaryRow {
    SummaryRow {
        place: text(place),
        before: Some(number(before[0], before[1], "")),
        before_verdict: text(before[2]),
        after: Some(number(after[0], after[1], "")),
        after_verdict: text(after[2]),
        change: Some(number(change[0], change[1], "")),
        limit: text(limit),
        conclusion: text(end),
        like_for_like: true,
    }
}

fn exhibit(path: &str, finding: &str, caption: &str, width: Width) -> Exhibit {
    Exhibit { path: text(path), alt: text(finding), title: text(finding), caption: text(caption), width }
}

fn answer() -> Answer {
    let mut coast = summary_row("", ["11.8", "0.4", ""], ["19.2", "0.6", ""], ["7.4", "0.7"], "", "higher");
    coast.like_for_like = false;
    Answer {
        sentences: vec![
            text(
                "The arbor ran out 3.4\u{a0}±\u{a0}0.8\u{a0}thou as found and 0.6\u{a0}±\u{a0}0.8\u{a0}thou as left; the limit is 1\u{a0}thou.",
            ),
            text(
                "As found it was over the limit at the tip; as left it is within the limit at the shoulder and too close to call at the tip.",
            ),
        ],
        chart: Some(exhibit(
            "charts/summary.svg",
            "Run-out fell at every station between the visits",
            "A dot for each visit with its 95 % uncertainty; the hatch is the forbidden side of the limit.",
            Width::Full,
        )),
        table: Some(SummaryTable {
            before: Some(State::AsFound),
            after: Some(State::AsLeft),
            groups: vec![
                SummaryGroup {
                    title: text("Arbor run-out"),
                    unit: text("thou"),
                    rows: vec![
                        summary_row(
                            "shoulder",
                            ["1.8", "0.8", "too close to call"],
                            ["0.5", "0.8", "too close to call"],
                            ["-1.3", "1.1"],
                            "1",
                            "better",
                        ),
                        summary_row(
                            "middle",
                            ["2.6", "0.8", "over"],
                            ["0.5", "0.8", "too close to call"],
                            ["-2.1", "1.1"],
                            "1",
                            "better",
                        ),
                        summary_row(
                            "tip",
                            ["3.4", "0.8", "over"],
                            ["0.6", "0.8", "too close to call"],
                            ["-2.8", "1.1"],
                            "1",
                            "better",
                        ),
                    ],
                },
                SummaryGroup {
                    title: text("Flange wobble"),
                    unit: text("thou"),
                    rows: vec![summary_row(
                        "rim",
                        ["2.21", "0.79", "within"],
                        ["1.08", "0.79", "within"],
                        ["-1.13", "1.12"],
                        "5",
                        "better",
                    )],
                },
                SummaryGroup { title: text("Coast-down time"), unit: text("s"), rows: vec![coast] },
            ],
            note: text("± is the expanded uncertainty, 95 %."),
        }),
        unfair: vec![Unfair {
            what: text("Coast-down time, as found to as left"),
            differs: text(
                "the blade was a 40-tooth thin kerf as found and a 24-tooth full kerf as left. The change is printed, and nothing is concluded from it about the repair.",
            ),
            in_table: true,
        }],
        not_as_sealed: vec![fact(
            "As found",
            "sealed 2 March 2026, 16:20:05 (UTC−05:00); changed: visit.yaml.",
        )],
    }
}

fn reading(shown: &str) -> Reading {
    Reading { shown: text(shown), struck_because: None }
}

fn state_word(state: State) -> String {
    text(if state == State::AsFound { "As found" } else { "As left" })
}

fn reading_table(title: &str, state: State, angles: usize) -> ReadingTable {
    let rows = ["shoulder", "middle", "tip"].iter().enumerate().flat_map(|(s, station)| {
        (1..=3).map(move |turn| ReadingRow {
            state: Some(state),
            labels: vec![state_word(state), text(station), turn.to_string()],
            is_head: false,
            follows: turn > 1,
            cells: (0..angles)
                .map(|i| {
                    let wave = (i * 7 + turn * 3 + s * 5) % 8;
                    #[allow(clippy::cast_precision_loss)]
                    let mut cell = reading(&format!("{:.1}", wave as f64 * 0.5 - 0.5));
                    if s == 1 && turn == 2 && i == 3 {
                        cell =
                            Reading { shown: text("9.5"), struck_because: Some(text("knocked the stand")) };
                    }
                    cell
                })
                .collect(),
        })
    });
    ReadingTable {
        title: text(title),
        unit: text("thou"),
        label_heads: vec![text("visit"), text("where"), text("turn")],
        value_heads: (0..angles).map(|i| format!("{}°", i * 360 / angles)).collect(),
        rows: rows.collect(),
        note: String::new(),
    }
}

fn finding_row(
    place: &str,
    state: State,
    value: &str,
    plus_minus: &str,
    floor: &str,
    verdict: &str,
    note: &str,
) -> FindingRow {
    FindingRow {
        place: text(place),
        state,
        visit: text(if state == State::AsFound { "as found" } else { "as left" }),
        value: (!value.is_empty()).then(|| text(value)),
        plus_minus: (!plus_minus.is_empty()).then(|| text(plus_minus)),
        k: text("2.0"),
        floor: text(floor),
        verdict: text(verdict),
        note: text(note),
    }
}

fn change_row(place: &str, numbers: [&str; 6], conclusion: &str, adjusted: &str) -> ChangeRow {
    let [before, after, change, low, high, percent] = numbers.map(text);
    ChangeRow {
        place: text(place),
        over_all: place == "all stations",
        before,
        after,
        change,
        low,
        high,
        percent,
        conclusion: text(conclusion),
        adjusted: text(adjusted),
    }
}

fn arbor() -> CheckSection {
    use State::{AsFound, AsLeft};
    CheckSection {
        id: text("arbor-runout"),
        title: text("Arbor run-out"),
        template: text("run-out"),
        key_figures: vec![
            KeyFigure {
                state: Some(AsFound),
                number: number("3.4", "0.8", "thou"),
                caption: text("total run-out at the tip"),
                verdict: text("over"),
            },
            KeyFigure {
                state: Some(AsLeft),
                number: number("0.6", "0.8", "thou"),
                caption: text("total run-out at the tip"),
                verdict: text("too close to call"),
            },
        ],
        procedure: Some(Markup(text(
            "The indicator stood on the table in a magnetic base, its tip square to the arbor. The belt was off and the arbor was turned *by hand* with the saw #strike[plugged in] unplugged.",
        ))),
        setup: vec![
            fact("Instrument", "Digital dial indicator, shows 0.5 thou"),
            fact("Direction", "radial"),
            fact("Stations", "shoulder at 0 mm, middle at 20 mm, tip at 40 mm"),
            fact("Turns", "three at each station, eight angles a turn"),
            fact("Conditions", "arbor height full; ambient 66 °F as found, 68 °F as left"),
        ],
        exhibits: vec![
            exhibit(
                "charts/unrolled.svg",
                "The high spot stands at the same angle at every station and grows towards the tip",
                "Each turn unrolled against its angle; the thick line is the fitted once-per-turn wave. Both visits share one scale.",
                Width::Text,
            ),
            exhibit(
                "charts/round-a.svg",
                "As found: 1.6 thou off centre at the tip",
                "Magnified 400 times.",
                Width::Half,
            ),
            exhibit(
                "charts/round-b.svg",
                "As left: 0.2 thou off centre at the tip",
                "Magnified 400 times.",
                Width::Half,
            ),
        ],
        sentences: vec![
            text(
                "The arbor ran out 3.4\u{a0}±\u{a0}0.8\u{a0}thou at the tip as found and 0.6\u{a0}±\u{a0}0.8\u{a0}thou as left; the limit is 1\u{a0}thou.",
            ),
            text("One reading was struck; with it the run-out at the middle would have been 9.4\u{a0}thou."),
        ],
        findings: vec![
            FindingGroup {
                what: text("Total run-out (TIR)"),
                unit: text("thou"),
                limit: text("at most 1 thou (Owner’s guide, p. 9)"),
                rows: vec![
                    finding_row("shoulder", AsFound, "1.8", "0.8", "0.9", "too close to call", ""),
                    finding_row(
                        "shoulder",
                        AsLeft,
                        "0.5",
                        "0.8",
                        "0.9",
                        "too close to call",
                        "not distinguishable from zero with this instrument",
                    ),
                    finding_row("middle", AsFound, "2.6", "0.8", "0.9", "over", "one reading struck"),
                    finding_row(
                        "middle",
                        AsLeft,
                        "0.5",
                        "0.8",
                        "0.9",
                        "too close to call",
                        "not distinguishable from zero with this instrument",
                    ),
                    finding_row("tip", AsFound, "3.4", "0.8", "0.9", "over", ""),
                    finding_row(
                        "tip",
                        AsLeft,
                        "0.6",
                        "0.8",
                        "0.9",
                        "too close to call",
                        "not distinguishable from zero with this instrument",
                    ),
                ],
            },
            FindingGroup {
                what: text("Once per turn"),
                unit: text("thou"),
                limit: String::new(),
                rows: vec![
                    finding_row("shoulder", AsFound, "1.62", "0.71", "0.62", "", "high spot at 112°"),
                    finding_row("tip", AsFound, "3.18", "0.71", "0.62", "", "high spot at 115°"),
                    finding_row(
                        "tip",
                        AsLeft,
                        "0.4",
                        "0.71",
                        "0.62",
                        "",
                        "high spot not given: below the floor",
                    ),
                ],
            },
            FindingGroup {
                what: text("Tilt"),
                unit: text("mrad"),
                limit: String::new(),
                rows: vec![
                    finding_row("all stations", AsFound, "0.99", "0.36", "", "", ""),
                    finding_row(
                        "all stations",
                        AsLeft,
                        "",
                        "",
                        "",
                        "",
                        "no value: every station is below the floor; at most 0.36",
                    ),
                ],
            },
        ],
        finding_notes: vec![text("Limit for total run-out (TIR): at most 1 thou (Owner’s guide, p. 9).")],
        readings: vec![reading_table("As found", AsFound, 8), reading_table("As left", AsLeft, 8)],
        changes: vec![ChangeTable {
            title: text("Before and after the bearing change"),
            elsewhere: None,
            before_title: text("As found, 2\u{a0}March\u{a0}2026"),
            after_title: text("As left, 20\u{a0}March\u{a0}2026"),
            before: AsFound,
            after: AsLeft,
            like_for_like: true,
            differs: text("Ambient differs by 2 °F, which counts as about the same."),
            groups: vec![
                ChangeGroup {
                    what: text("Total run-out (TIR)"),
                    unit: text("thou"),
                    rows: vec![
                        change_row(
                            "shoulder",
                            ["1.8", "0.5", "-1.3", "-2.4", "-0.2", "-72"],
                            "better",
                            "better",
                        ),
                        change_row(
                            "middle",
                            ["2.6", "0.5", "-2.1", "-3.2", "-1.0", "-81"],
                            "better",
                            "better",
                        ),
                        change_row("tip", ["3.4", "0.6", "-2.8", "-3.9", "-1.7", "-82"], "better", "better"),
                    ],
                },
                ChangeGroup {
                    what: text("Tilt"),
                    unit: text("mrad"),
                    rows: vec![change_row(
                        "all stations",
                        ["0.99", "0.12", "-0.87", "-1.38", "-0.36", "-88"],
                        "better",
                        "better",
                    )],
                },
            ],
        }],
        patterns: vec![
            text(
                "The eccentricity grows with distance, from 0.8\u{a0}thou at the shoulder to 1.6\u{a0}thou at the tip: consistent with a tilt or a bend of the arbor.",
            ),
            text("It repeats from turn to turn within 0.2\u{a0}thou: this gives no sign of a loose bearing."),
        ],
        more_notes: Vec::new(),
        notes: vec![text(
            "The limit is 1.3 times the uncertainty. The instrument is coarse for this limit; four to one is common practice.",
        )],
        cautions: vec![text("Turn the arbor by hand, with the saw unplugged and the blade off.")],
    }
}

fn coast() -> CheckSection {
    use State::{AsFound, AsLeft};
    let row = |state: State, cells: [&str; 5]| ReadingRow {
        state: Some(state),
        labels: vec![state_word(state)],
        cells: cells.map(reading).into(),
        is_head: false,
        follows: false,
    };
    CheckSection {
        id: text("coast-down"),
        title: text("Coast-down time"),
        template: text("quantity"),
        key_figures: vec![
            KeyFigure {
                state: Some(AsFound),
                number: number("11.8", "0.4", "s"),
                caption: text("mean of five"),
                verdict: String::new(),
            },
            KeyFigure {
                state: Some(AsLeft),
                number: number("19.2", "0.6", "s"),
                caption: text("mean of five"),
                verdict: String::new(),
            },
        ],
        procedure: None,
        setup: vec![fact("Instrument", "Stopwatch"), fact("Readings", "five at each visit")],
        exhibits: vec![exhibit(
            "charts/coast.svg",
            "It coasts 7.4 s longer as left",
            "Each reading, and the mean with its 95 % uncertainty.",
            Width::Text,
        )],
        sentences: vec![text(
            "The blade coasted 11.8\u{a0}±\u{a0}0.4\u{a0}s as found and 19.2\u{a0}±\u{a0}0.6\u{a0}s as left.",
        )],
        findings: vec![FindingGroup {
            what: text("Mean"),
            unit: text("s"),
            limit: String::new(),
            rows: vec![
                finding_row("", AsFound, "11.80", "0.42", "", "", ""),
                finding_row("", AsLeft, "19.20", "0.58", "", "", ""),
            ],
        }],
        finding_notes: Vec::new(),
        readings: vec![ReadingTable {
            title: String::new(),
            unit: text("s"),
            label_heads: vec![text("visit")],
            value_heads: (1..=5).map(|n| n.to_string()).collect(),
            rows: vec![
                row(AsFound, ["11.6", "12.1", "11.9", "11.5", "11.9"]),
                row(AsLeft, ["19.0", "19.9", "18.8", "19.1", "19.2"]),
            ],
            note: String::new(),
        }],
        changes: vec![ChangeTable {
            title: text("Before and after the bearing change"),
            elsewhere: None,
            before_title: text("As found, 2\u{a0}March\u{a0}2026"),
            after_title: text("As left, 20\u{a0}March\u{a0}2026"),
            before: AsFound,
            after: AsLeft,
            like_for_like: false,
            differs: text("The blade was a 40-tooth thin kerf as found and a 24-tooth full kerf as left."),
            groups: vec![ChangeGroup {
                what: text("Mean"),
                unit: text("s"),
                rows: vec![change_row(
                    "",
                    ["11.80", "19.20", "7.40", "6.71", "8.09", "63"],
                    "higher",
                    "higher",
                )],
            }],
        }],
        patterns: Vec::new(),
        notes: Vec::new(),
        more_notes: Vec::new(),
        cautions: vec![text(
            "Keep clear of the blade until it has stopped; guards on, eye and ear protection.",
        )],
    }
}

fn budget(title: &str) -> Budget {
    let component = |name: &str, distribution: &str, divisor: &str, dof: &str| BudgetComponent {
        name: text(name),
        distribution: text(distribution),
        divisor: text(divisor),
        dof: text(dof),
    };
    let part = |value: &str, divisor: &str, contribution: &str, dof: &str| {
        Some(BudgetPart {
            value: text(value),
            divisor: text(divisor),
            contribution: text(contribution),
            dof: text(dof),
        })
    };
    let row = |place: &str, state: State| BudgetRow {
        place: text(place),
        state,
        visit: state_word(state),
        parts: vec![
            part("0.50", "√12", "0.144", "∞"),
            part("1.00", "√3", "0.577", "∞"),
            part("0.27", "√28", "0.270", "5"),
            None,
        ],
        combined: text("0.653"),
        dof: text("189"),
        k: text("1.97"),
        expanded: text("1.29"),
    };
    Budget {
        title: text(title),
        tables: vec![BudgetTable {
            components: vec![
                component("Display step", "rectangular", "√12", "∞"),
                component("Accuracy stated for the instrument", "rectangular", "√3", "∞"),
                component("Scatter from turn to turn", "normal", "", ""),
                component("Calibration certificate (U, k)", "normal", "2", "∞"),
            ],
            groups: ["Total run-out (TIR)", "Once per turn"]
                .map(|what| BudgetGroup {
                    what: text(what),
                    unit: text("thou"),
                    note: text("step and scatter carried through by Monte Carlo"),
                    rows: ["shoulder", "middle", "tip"]
                        .iter()
                        .flat_map(|place| [row(place, State::AsFound), row(place, State::AsLeft)])
                        .collect(),
                })
                .into(),
        }],
    }
}

fn appendices() -> Appendices {
    let file = |path: &str, bytes: &str, mime: &str| FileFacts {
        path: text(path),
        bytes: text(bytes),
        sha256: "3f9a1c5e7d20b8446a91e3f75c0d2b8a".repeat(2),
        mime: text(mime),
        altered: String::new(),
    };
    let method = |what: &str, done: &str, source: &str| Method {
        what: text(what),
        text: text(done),
        source: text(source),
    };
    Appendices {
        asides: Vec::new(),
        readings_elsewhere: text("The readings of these stand in their sections."),
        budgets: vec![budget("Arbor run-out"), budget("Flange wobble")],
        readings: vec![
            reading_table("Arbor run-out, as found", State::AsFound, 24),
            reading_table("Arbor run-out, as left", State::AsLeft, 8),
        ],
        files: vec![
            file("session.yaml", "2\u{a0}184", "application/yaml"),
            file("notes.md", "1\u{a0}020", "text/markdown"),
            file("visits/as-found/visit.yaml", "1\u{a0}733", "application/yaml"),
            file("visits/as-left/visit.yaml", "1\u{a0}698", "application/yaml"),
            file("visits/as-found/photos/indicator.jpg", "48\u{a0}211", "image/jpeg"),
        ],
        files_note: String::new(),
        cautions: vec![
            text(
                "Unplug the machine and turn it by hand for every dial-indicator reading. Keep guards on and wear eye and ear protection for running tests; never reach over a blade.",
            ),
            text(
                "The maker’s instructions, local codes and licensed practice come first. This report informs a decision; it certifies nothing.",
            ),
        ],
        methods: vec![
            method(
                "Uncertainty",
                "Components combined in quadrature; degrees of freedom by Welch and Satterthwaite, cut to a whole number.",
                "JCGM 100:2008, 5.1.2, G.4.1",
            ),
            method("Range", "Monte Carlo propagation; the value is the one observed.", "JCGM 101:2008"),
            method(
                "Verdict",
                "Within, over, or too close to call, by guard bands as wide as the uncertainty.",
                "JCGM 106:2012; ISO 14253-1:2017",
            ),
            method("Coarse instrument", "Limit over uncertainty below four.", "common practice"),
        ],
        seals: vec![
            SealFacts {
                visit: text("As found"),
                state: State::AsFound,
                sealed: text("2 March 2026, 16:20:05 (UTC−05:00)"),
                standing: text("2 files; since then 1 changed and 1 added"),
                remarks: vec![],
                changes: vec![
                    SealChange { path: text("photos/dial.jpg"), was: text(""), is: "5a".repeat(32) },
                    SealChange { path: text("visit.yaml"), was: "0f".repeat(32), is: "f0".repeat(32) },
                ],
            },
            SealFacts {
                visit: text("As left"),
                state: State::AsLeft,
                sealed: text(""),
                standing: text("not sealed"),
                remarks: vec![],
                changes: vec![],
            },
        ],
        warnings: vec![text("visits/as-left/visit.yaml: the time of the visit is not recorded.")],
    }
}

/// The whole mock report.
pub(crate) fn report() -> Report {
    let visit = |title: &str, state, date: &str, blade: &str| VisitFacts {
        title: text(title),
        state,
        date: text(date),
        by: text("R. Adeyemi"),
        conditions: vec![fact("ambient", "66 °F"), fact("blade", blade), fact("stand", "bolted to floor")],
    };
    let day = |date: &str, what: &str, state, days_since, coverage: &str| DiaryEntry {
        date: text(date),
        what: text(what),
        state,
        days_since,
        coverage: text(coverage),
    };
    Report {
        document: DocumentFacts {
            title: text("Arbor bearings on a 10-inch cabinet saw"),
            kind: text("Test report"),
            question: Some(text("Does the arbor run true and quiet after the bearing change?")),
            ask: Some(text("Replace the arbor assembly under the parts warranty")),
            prepared_by: Some(text("R. Adeyemi")),
            approved_by: None,
            owner: None,
            revision: None,
            number: text("3F9A-1C5E-7D20"),
            date: jiff::civil::date(2026, 3, 20).into(),
            paper: text("us-letter"),
            language: text("en"),
            program: text("asfound 0.1.0"),
            subject: text("Marlstone CS-10 cabinet saw, serial CS10-04417"),
            machine: text("Marlstone CS-10 cabinet saw"),
            serial: Some(text("CS10-04417")),
            publication: None,
        },
        answer: answer(),
        machines: vec![MachineFacts {
            name: text("Marlstone CS-10"),
            facts: vec![
                fact("Kind", "cabinet saw"),
                fact("Serial number", "CS10-04417"),
                fact("Bought", "20 January 2026 from Weir Lane Tools"),
            ],
            coverage: vec![
                CoverageFacts {
                    name: text("Return window"),
                    lasts: text("30 days"),
                    until: text("19\u{a0}February\u{a0}2026"),
                    reference: String::new(),
                    standing: text("closed 11 days before the visit as found"),
                },
                CoverageFacts {
                    name: text("Parts and labour"),
                    lasts: text("3 years"),
                    until: text("20\u{a0}January\u{a0}2029"),
                    reference: text("Owner’s guide, p. 2"),
                    standing: text("open at both visits; 1037 days left at the last"),
                },
            ],
        }],
        visits: vec![
            visit("As found", State::AsFound, "2\u{a0}March\u{a0}2026", "40-tooth, thin kerf"),
            visit("As left", State::AsLeft, "20\u{a0}March\u{a0}2026", "24-tooth, full kerf"),
        ],
        diary: vec![
            day("20\u{a0}January\u{a0}2026", "Bought from Weir Lane Tools", None, None, ""),
            day("19\u{a0}February\u{a0}2026", "Return window ends", None, Some(30), ""),
            day(
                "2\u{a0}March\u{a0}2026",
                "First visit",
                Some(State::AsFound),
                Some(11),
                "Parts and labour: 1055 days left",
            ),
            day(
                "3\u{a0}March\u{a0}2026",
                "Wrote to the maker with the readings",
                None,
                Some(1),
                "Parts and labour: 1054 days left",
            ),
            day(
                "19\u{a0}March\u{a0}2026",
                "Replacement arbor arrived",
                None,
                Some(16),
                "Parts and labour: 1038 days left",
            ),
            day(
                "20\u{a0}March\u{a0}2026",
                "Second visit",
                Some(State::AsLeft),
                Some(1),
                "Parts and labour: 1037 days left",
            ),
        ],
        instruments: vec![
            InstrumentFacts {
                name: text("Digital dial indicator"),
                resolution: text("0.0005 in"),
                accuracy: text("±0.001 in"),
                calibrated: text("5 January 2026"),
                used_in: vec![text("Arbor run-out"), text("Flange wobble")],
                facts: vec![],
                repeatability: text("0.27 thou (6)"),
            },
            InstrumentFacts {
                name: text("Stopwatch"),
                resolution: text("0.1 s"),
                accuracy: String::new(),
                calibrated: String::new(),
                used_in: vec![text("Coast-down time")],
                facts: vec![fact("reaction", "0.2 s")],
                repeatability: String::new(),
            },
        ],
        checks: vec![arbor(), coast()],
        comparisons: vec![Comparison {
            title: text("Before and after the bearing change"),
            before: State::AsFound,
            before_title: text("As found, 2\u{a0}March\u{a0}2026"),
            after: State::AsLeft,
            after_title: text("As left, 20\u{a0}March\u{a0}2026"),
            sentences: vec![text(
                "Two of three checks are like for like. Instrument errors are taken as independent between the visits, which is cautious.",
            )],
            conditions: vec![
                ConditionRow {
                    check: String::new(),
                    condition: text("ambient"),
                    before: text("66 °F"),
                    after: text("68 °F"),
                    standing: text("about the same"),
                    must_match: false,
                },
                ConditionRow {
                    check: String::new(),
                    condition: text("stand"),
                    before: text("bolted to floor"),
                    after: text("not recorded"),
                    standing: text("not recorded"),
                    must_match: false,
                },
                ConditionRow {
                    check: text("Coast-down time"),
                    condition: text("blade"),
                    before: text("40-tooth, thin kerf"),
                    after: text("24-tooth, full kerf"),
                    standing: text("differs"),
                    must_match: true,
                },
            ],
        }],
        notes: Some(Markup(text(
            "#heading(level: 2)[What happened]\n\nThe saw hummed from the first week. A *long* paragraph about it, with _emphasis_, `code` and a #link(\"https://example.org\")[link].#footnote[Heard at 3450 rpm.]\n\n#heading(level: 3)[Taking it apart]\n\n- drew the belt\n- pulled the arbor\n- pressed the bearings\n\n#quote(block: true)[It was like that when we got it.]\n\n#table(columns: 2, table.header([part], [state]), [bearing], [rough], [seat], [clean])\n",
        ))),
        photos: (1..=3)
            .map(|n| Photo {
                path: format!("photos/{n:03}.jpg"),
                alt: text("The indicator on the arbor flange"),
                caption: text("The indicator on the arbor flange"),
                date: text("2\u{a0}March\u{a0}2026"),
                position: String::new(),
                remark: String::new(),
                visit: text("As found"),
                state: if n < 3 { State::AsFound } else { State::AsLeft },
            })
            .collect(),
        appendices: appendices(),
        attachments: vec![
            Attachment {
                name: text("session.yaml"),
                path: text("attached/001"),
                mime: text("application/yaml"),
                relationship: text("source"),
                description: text("The session as it was written"),
            },
            Attachment {
                name: text("visits/as-found/odd name \\ 测.csv"),
                path: text("attached/002"),
                mime: text("text/csv"),
                relationship: text("data"),
                description: text("Raw readings"),
            },
            Attachment {
                name: text("findings.json"),
                path: text("attached/003"),
                mime: text("application/json"),
                relationship: text("supplement"),
                description: text("Every finding"),
            },
        ],
    }
}

/// The mock with text that means to break out, wherever a person may write.
pub(crate) fn hostile() -> Report {
    let mut report = report();
    let bad = || text(HOSTILE);
    report.document.title = bad();
    report.document.question = Some(bad());
    report.document.ask = Some(bad());
    report.document.prepared_by = Some(bad());
    report.document.machine = bad();
    report.document.subject = bad();
    report.answer.table.as_mut().unwrap().groups[0].title = bad();
    report.answer.unfair[0].differs = bad();
    report.answer.not_as_sealed[0] = Fact { label: bad(), value: bad() };
    report.appendices.seals[0].visit = bad();
    report.appendices.seals[0].standing = bad();
    report.appendices.seals[0].remarks = vec![bad()];
    report.appendices.seals[0].changes[0].path = bad();
    report.machines[0].name = bad();
    report.machines[0].facts[0] = Fact { label: bad(), value: bad() };
    report.diary[3].what = bad();
    report.visits[0].title = bad();
    report.instruments[0].name = bad();
    let check = &mut report.checks[0];
    check.title = bad();
    check.setup[0].value = bad();
    check.exhibits[0].alt = bad();
    check.exhibits[0].caption = bad();
    check.findings[0].rows[0].place = bad();
    check.readings[0].rows[4].cells[3].struck_because = Some(bad());
    check.readings[0].value_heads[0] = text("45]°");
    report.comparisons[0].conditions[0].condition = bad();
    report.photos[0].caption = bad();
    report.photos[0].alt = bad();
    report.appendices.files[0].path = bad();
    report.attachments[2].name = bad().replace('/', "_");
    report.attachments[2].description = bad();
    report
}

/// A plain drawing to stand for a chart.
fn drawing(width: u32, height: u32, label: &str) -> Vec<u8> {
    let (w, h) = (width - 120, height - 110);
    format!(
        r##"<svg xmlns="http://www.w3.org/2000/svg" width="{width}" height="{height}" viewBox="0 0 {width} {height}">
<g font-family="'{}'" font-size="26" fill="#1A1A1A"><text x="60" y="34">{label}</text>
<path d="M60 50 V{} H{}" fill="none" stroke="#8C8C8C" stroke-width="2"/>
<polyline points="60,{} {},{} {},{} {},{}" fill="none" stroke="#D55E00" stroke-width="4"/>
<circle cx="{}" cy="{}" r="9" fill="#0072B2"/></g></svg>"##,
        fonts::SANS,
        h + 50,
        w + 60,
        h,
        w / 3,
        h / 2,
        2 * w / 3,
        h / 3,
        w,
        h - 20,
        w / 2,
        h / 2,
    )
    .into_bytes()
}

/// The assets that the mock's paths name.
pub(crate) fn assets() -> Vec<(String, Vec<u8>)> {
    let mut assets = vec![
        (text("charts/summary.svg"), drawing(1780, 560, "total run-out, thou")),
        (text("charts/unrolled.svg"), drawing(1250, 700, "thou")),
        (text("charts/round-a.svg"), drawing(855, 855, "thou")),
        (text("charts/round-b.svg"), drawing(855, 855, "thou")),
        (text("charts/coast.svg"), drawing(1250, 500, "s")),
        (text("attached/001"), b"title: Arbor bearings\n".to_vec()),
        (text("attached/002"), b"t,v\n0,1\n".to_vec()),
        (text("attached/003"), b"{}".to_vec()),
    ];
    for n in 1..=3_u8 {
        let picture = image::RgbImage::from_fn(640, if n == 2 { 640 } else { 480 }, |x, y| {
            let shade = |n: u32| u8::try_from(n % 256).unwrap();
            image::Rgb([shade(x / 4), shade(y / 3), 120 + 40 * (n - 1)])
        });
        let mut bytes = std::io::Cursor::new(Vec::new());
        picture.write_to(&mut bytes, image::ImageFormat::Jpeg).unwrap();
        assets.push((format!("photos/{n:03}.jpg"), bytes.into_inner()));
    }
    assets
}
