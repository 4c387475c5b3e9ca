//! Cardinals, decimals, ordinals, years and times of the clock in words.

/// The numbers below twenty.
pub(crate) const SMALL: [&str; 20] = [
    "zero",
    "one",
    "two",
    "three",
    "four",
    "five",
    "six",
    "seven",
    "eight",
    "nine",
    "ten",
    "eleven",
    "twelve",
    "thirteen",
    "fourteen",
    "fifteen",
    "sixteen",
    "seventeen",
    "eighteen",
    "nineteen",
];
/// The tens, at their figure; none below twenty.
pub(crate) const TENS: [&str; 10] =
    ["", "", "twenty", "thirty", "forty", "fifty", "sixty", "seventy", "eighty", "ninety"];
const GROUPS: [(u64, &str); 6] = [
    (1_000_000_000_000_000_000, "quintillion"),
    (1_000_000_000_000_000, "quadrillion"),
    (1_000_000_000_000, "trillion"),
    (1_000_000_000, "billion"),
    (1_000_000, "million"),
    (1_000, "thousand"),
];

fn small(number: u64) -> &'static str {
    usize::try_from(number).ok().and_then(|index| SMALL.get(index)).copied().unwrap_or("")
}

fn tens(number: u64) -> &'static str {
    usize::try_from(number).ok().and_then(|index| TENS.get(index)).copied().unwrap_or("")
}

/// Below a hundred: "forty-two".
fn below_hundred(number: u64) -> String {
    match (number, number % 10) {
        (0..=19, _) => small(number).to_owned(),
        (_, 0) => tens(number / 10).to_owned(),
        (_, ones) => format!("{}-{}", tens(number / 10), small(ones)),
    }
}

/// Below a thousand: "four hundred and two".
fn below_thousand(number: u64) -> String {
    match (number / 100, number % 100) {
        (0, rest) => below_hundred(rest),
        (hundreds, 0) => format!("{} hundred", small(hundreds)),
        (hundreds, rest) => format!("{} hundred and {}", small(hundreds), below_hundred(rest)),
    }
}

/// A whole number: "three thousand four hundred and fifty".
pub fn cardinal(number: u64) -> String {
    let mut rest = number;
    let mut parts: Vec<String> = Vec::new();
    for (size, name) in GROUPS {
        if rest >= size {
            parts.push(format!("{} {name}", below_thousand(rest / size)));
            rest %= size;
        }
    }
    if parts.is_empty() {
        return below_thousand(rest);
    }
    if rest > 0 {
        // "two thousand and five": the last group without hundreds takes an "and".
        let and = if rest < 100 { "and " } else { "" };
        parts.push(format!("{and}{}", below_thousand(rest)));
    }
    parts.join(" ")
}

/// A printed decimal number: "minus zero point zero five". Zeros at the end are not said.
pub fn decimal(digits: &str) -> String {
    let plain = digits.trim().replace('\u{2212}', "-");
    let (minus, size) = plain.strip_prefix('-').map_or(("", plain.as_str()), |size| ("minus ", size));
    let size = size.trim_start_matches('+');
    let (whole, after) = size.split_once('.').unwrap_or((size, ""));
    let whole = if whole.is_empty() { "0" } else { whole };
    let Ok(number) = whole.parse::<u64>() else { return digits.to_owned() };
    let mut text = format!("{minus}{}", cardinal(number));
    let after = after.trim_end_matches('0');
    if !after.is_empty() {
        text.push_str(" point");
        for digit in after.chars().filter_map(|c| c.to_digit(10)) {
            text.push(' ');
            text.push_str(small(u64::from(digit)));
        }
    }
    text
}

/// The number of something in a row: "twenty-first".
pub fn ordinal(number: u64) -> String {
    const ODD: [(&str, &str); 7] = [
        ("one", "first"),
        ("two", "second"),
        ("three", "third"),
        ("five", "fifth"),
        ("eight", "eighth"),
        ("nine", "ninth"),
        ("twelve", "twelfth"),
    ];
    let text = cardinal(number);
    let (before, last) = text.rfind([' ', '-']).map_or(("", text.as_str()), |at| text.split_at(at + 1));
    let last = match ODD.iter().find(|(one, _)| *one == last) {
        Some((_, odd)) => (*odd).to_owned(),
        None => match last.strip_suffix('y') {
            Some(stem) => format!("{stem}ieth"),
            None => format!("{last}th"),
        },
    };
    format!("{before}{last}")
}

/// A year: "twenty twenty-six", "two thousand and five", "nineteen oh-five".
pub fn year(number: u64) -> String {
    let (century, rest) = (number / 100, number % 100);
    if !(1_000..10_000).contains(&number) || century % 10 == 0 && rest < 10 || number.is_multiple_of(1_000) {
        return cardinal(number);
    }
    match rest {
        0 => format!("{} hundred", below_hundred(century)),
        1..=9 => format!("{} oh-{}", below_hundred(century), small(rest)),
        _ => format!("{} {}", below_hundred(century), below_hundred(rest)),
    }
}

/// A time run, in whole seconds: "four minutes thirty", "one hour two minutes".
pub fn clock(seconds: u64) -> String {
    let (hours, minutes, rest) = (seconds / 3600, seconds / 60 % 60, seconds % 60);
    let count = |number: u64, one: &str| {
        if number == 1 { format!("one {one}") } else { format!("{} {one}s", cardinal(number)) }
    };
    let mut parts = Vec::new();
    if hours > 0 {
        parts.push(count(hours, "hour"));
    }
    if minutes > 0 {
        parts.push(count(minutes, "minute"));
    }
    match (parts.is_empty(), rest) {
        (true, _) => parts.push(count(rest, "second")),
        (false, 0) => {}
        // After hours alone, "two hours five" would be five minutes.
        (false, _) if minutes == 0 => parts.push(count(rest, "second")),
        (false, _) => parts.push(cardinal(rest)),
    }
    parts.join(" ")
}
