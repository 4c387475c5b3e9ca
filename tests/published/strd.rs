//! NIST/ITL Statistical Reference Datasets (StRD): certified values from each file's header.

use asfound::analysis::statistics::{lag_one, mean, one_way, sample};

use crate::common::{checkdata, log_relative_error, published};

/// Set, mean, standard deviation, lag-one autocorrelation, digits that double precision allows.
/// (`NumAcc3` and `NumAcc4` hold decimals such as 10000000.2, which binary cannot.)
const UNIVARIATE: [(&str, f64, f64, f64, f64); 9] = [
    ("PiDigits.commons-math.txt", 4.534_800_000_000_00, 2.867_339_060_288_71, -0.003_550_992_872_379_72, 9.0),
    ("Lottery.dat", 518.958_715_596_330, 291.699_727_470_969, -0.120_948_622_967_393, 9.0),
    ("Lew.dat", -177.435_000_000_000, 277.332_168_044_316, -0.307_304_800_605_679, 9.0),
    ("Mavro.dat", 2.001_856_000_000_00, 0.000_429_123_454_003_053, 0.937_989_183_438_248, 9.0),
    ("Michelso.dat", 299.852_400_000_000, 0.079_010_547_819_051_8, 0.535_199_668_621_283, 9.0),
    ("NumAcc1.dat", 10_000_002.0, 1.0, -0.5, 9.0),
    ("NumAcc2.dat", 1.2, 0.1, -0.999, 9.0),
    ("NumAcc3.dat", 1_000_000.2, 0.1, -0.999, 9.0),
    ("NumAcc4.dat", 10_000_000.2, 0.1, -0.999, 8.0),
];

/// The numbers of a data file: everything after the heading `Data:` and its dashes.
fn numbers(text: &str) -> Vec<f64> {
    let lines: Vec<&str> = text.lines().collect();
    let head = lines.iter().rposition(|line| line.trim_start().starts_with("Data:")).unwrap();
    lines[head + 2..].iter().filter_map(|line| line.trim().parse().ok()).collect()
}

#[test]
fn univariate_sets_come_out_to_nine_certified_digits_where_double_precision_allows() {
    let mut checked = 0;
    for (name, certified_mean, certified_deviation, certified_lag, digits) in UNIVARIATE {
        let Some(text) = checkdata(&format!("nist_strd/univ/{name}")) else {
            continue;
        };
        let values = numbers(&text);
        let found = sample(&values);
        assert!(log_relative_error(mean(&values), certified_mean) >= 9.0, "{name}: mean");
        let lre = log_relative_error(found.deviation, certified_deviation);
        assert!(lre >= digits, "{name}: deviation {} has {lre} digits", found.deviation);
        let lre = log_relative_error(lag_one(&values), certified_lag);
        assert!(lre >= digits, "{name}: autocorrelation has {lre} digits");
        checked += 1;
    }
    assert!(checked == UNIVARIATE.len() || checkdata("nist_strd/univ/Lew.dat").is_none());
}

/// Groups of a one-way file: the columns treatment and response from line 61.
fn groups(text: &str) -> Vec<Vec<f64>> {
    let mut groups: Vec<(i64, Vec<f64>)> = Vec::new();
    for line in text.lines().skip(60) {
        let mut cells = line.split_whitespace();
        let (Some(treatment), Some(response)) = (cells.next(), cells.next()) else {
            continue;
        };
        let treatment: i64 = treatment.parse().unwrap();
        let response: f64 = response.parse().unwrap();
        match groups.iter_mut().find(|(known, _)| *known == treatment) {
            Some((_, values)) => values.push(response),
            None => groups.push((treatment, vec![response])),
        }
    }
    groups.into_iter().map(|(_, values)| values).collect()
}

#[test]
fn one_way_sets_keep_their_digits_even_where_every_reading_begins_with_the_same_twelve() {
    // F, pooled deviation, digits. SmLs07's readings are 1000000000000.4: twelve digits are gone
    // before the computation begins.
    let sets = [
        ("SiRstv", 1.180_462_374_402_55, 0.104_076_068_334_656, 9.0),
        ("SmLs01", 21.0, 0.1, 9.0),
        ("SmLs04", 21.0, 0.1, 9.0),
        ("SmLs07", 21.0, 0.1, 3.0),
        ("AtmWtAg", 15.946_733_567_793_0, 1.510_483_144_464_10e-5, 9.0),
    ];
    for (name, f, pooled, digits) in sets {
        let found = one_way(&groups(&published(&format!("nist_anova/{name}.dat"))));
        let lre = log_relative_error(found.f, f);
        assert!(lre >= digits, "{name}: F = {} has {lre} digits", found.f);
        let lre = log_relative_error(found.pooled(), pooled);
        assert!(lre >= digits, "{name}: pooled {} has {lre} digits", found.pooled());
    }
}
