//! The style, the script and the faces of the page, and the policy that lets it use these and nothing else.

use std::sync::LazyLock;

use base64::Engine as _;
use base64::engine::general_purpose::STANDARD;
use sha2::{Digest, Sha256};

use super::super::{ComposeError, Templates};

/// The page's own parts, as they stand in it.
pub(in crate::compose) struct Sealed {
    pub(in crate::compose) faces: String,
    pub(in crate::compose) style: String,
    pub(in crate::compose) script: String,
    pub(in crate::compose) policy: String,
}

/// A face: family, weights, style, and the font in WOFF2, which holds the shipped font unchanged.
type Face = (&'static str, &'static str, &'static str, &'static [u8]);

const FACES: [Face; 5] = [
    (
        "Source Sans 3",
        "400",
        "normal",
        include_bytes!("../../../templates/fonts/screen/SourceSans3-Regular.woff2"),
    ),
    (
        "Source Sans 3",
        "600 900",
        "normal",
        include_bytes!("../../../templates/fonts/screen/SourceSans3-SemiBold.woff2"),
    ),
    (
        "Source Serif 4",
        "400",
        "normal",
        include_bytes!("../../../templates/fonts/screen/SourceSerif4-Regular.woff2"),
    ),
    (
        "Source Serif 4",
        "400",
        "italic",
        include_bytes!("../../../templates/fonts/screen/SourceSerif4-Italic.woff2"),
    ),
    (
        "Source Serif 4",
        "600 900",
        "normal",
        include_bytes!("../../../templates/fonts/screen/SourceSerif4-Bold.woff2"),
    ),
];

/// The faces as rules of a style sheet. They are the same for every page.
static RULES: LazyLock<String> = LazyLock::new(|| {
    let mut rules = String::from("/* Source Sans 3 and Source Serif 4, SIL Open Font License 1.1 */\n");
    for (family, weight, style, bytes) in FACES {
        rules.push_str(&format!(
            "@font-face{{font-family:\"{family}\";font-weight:{weight};font-style:{style};\
             src:url(data:font/woff2;base64,{}) format(\"woff2\")}}\n",
            STANDARD.encode(bytes)
        ));
    }
    rules
});

static HASH_OF_RULES: LazyLock<String> = LazyLock::new(|| hash(&RULES));

/// Reads the style sheet and the script, and seals them with their hashes.
pub(in crate::compose) fn sealed(templates: &Templates) -> Result<Sealed, ComposeError> {
    let style = shielded(&templates.text("page.css")?);
    let script = shielded(&templates.text("page.js")?);
    let faces = RULES.clone();
    let policy = format!(
        "default-src 'none'; style-src {} {}; script-src {}; img-src data:; font-src data:; base-uri 'none'; \
         form-action 'none'",
        *HASH_OF_RULES,
        hash(&style),
        hash(&script)
    );
    Ok(Sealed { faces, style, script, policy })
}

/// A style sheet or a script that cannot end its element, nor begin a comment of HTML: both languages read
/// `<\/` and `<\!` in a string as `</` and `<!`.
fn shielded(text: &str) -> String {
    text.replace("\r\n", "\n").replace('\r', "\n").replace("</", "<\\/").replace("<!", "<\\!")
}

/// A source by its hash, as Content Security Policy Level 3, 2.3.1 writes it.
fn hash(text: &str) -> String {
    format!("'sha256-{}'", STANDARD.encode(Sha256::digest(text.as_bytes())))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_script_of_one_s_own_cannot_end_its_element() {
        assert_eq!(shielded("a = '</script><!--'\r\n"), "a = '<\\/script><\\!--'\n");
    }

    #[test]
    fn a_hash_is_the_one_that_the_specification_prints() {
        // Content Security Policy Level 3, 8.3 ("alert('Hello, world.');").
        assert_eq!(hash("alert('Hello, world.');"), "'sha256-qznLcsROx4GACP2dm0UCKCzCG+HiZ1guq6ZZDob/Tng='");
    }
}
