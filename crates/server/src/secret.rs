//! Secrets: made by the machine's own source of randomness, shown once, kept only as their hash.
//!
//! A token carries 256 bits, so its plain SHA-256 cannot be worked backwards (NIST SP 800-63B-4, section 3.1.2: look-up
//! secrets of 112 bits and more need no slow hash). A spoken code carries 40 bits; it lives ten minutes, holds once, and
//! guesses at it are throttled.

use sha2::{Digest, Sha256};

/// Letters of a spoken code: Crockford's base 32, without I, L, O and U.
const LETTERS: &[u8; 32] = b"0123456789ABCDEFGHJKMNPQRSTVWXYZ";

/// A hash of a secret, as it is kept.
pub(crate) type Hashed = [u8; 32];

/// What a secret is kept as.
pub(crate) fn hashed(secret: &str) -> Hashed {
    Sha256::digest(secret.as_bytes()).into()
}

/// Bytes as hex.
pub(crate) fn hex(bytes: &[u8]) -> String {
    bytes.iter().fold(String::with_capacity(bytes.len() * 2), |mut text, byte| {
        text.push_str(&format!("{byte:02x}"));
        text
    })
}

/// Random bytes of the machine's own source.
///
/// # Errors
/// When the machine has none to give.
fn random<const N: usize>() -> Result<[u8; N], getrandom::Error> {
    let mut bytes = [0; N];
    getrandom::fill(&mut bytes)?;
    Ok(bytes)
}

/// A token of 256 bits, as hex.
///
/// # Errors
/// When the machine has no randomness to give.
pub(crate) fn token() -> Result<String, getrandom::Error> {
    Ok(hex(&random::<32>()?))
}

/// A short name of 48 bits, as hex.
///
/// # Errors
/// When the machine has no randomness to give.
pub(crate) fn name() -> Result<String, getrandom::Error> {
    Ok(hex(&random::<6>()?))
}

/// A code to be typed: eight letters of 40 bits, with a line in the middle.
///
/// # Errors
/// When the machine has no randomness to give.
pub(crate) fn code() -> Result<String, getrandom::Error> {
    let bytes = random::<8>()?;
    let mut text: String = bytes.iter().map(|byte| char::from(LETTERS[usize::from(byte & 31)])).collect();
    text.insert(4, '-');
    Ok(text)
}

/// A code as it was meant, however it was typed: letters of one size, no lines or blanks, and what looks alike is alike.
pub(crate) fn as_meant(typed: &str) -> String {
    let long = typed.trim();
    if long.len() == 64 && long.bytes().all(|byte| byte.is_ascii_hexdigit()) {
        return long.to_ascii_lowercase();
    }
    let plain = typed.chars().filter(|letter| !matches!(letter, '-' | ' ' | '\u{a0}')).map(|letter| {
        match letter.to_ascii_uppercase() {
            'O' => '0',
            'I' | 'L' => '1',
            other => other,
        }
    });
    plain.take(64).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_code_is_taken_however_it_is_typed() {
        let code = code().unwrap();
        assert_eq!((code.len(), code.find('-')), (9, Some(4)));
        let plain = as_meant(&code);
        assert_eq!(plain.len(), 8);
        assert_eq!(as_meant(&code.to_ascii_lowercase().replace('-', " ")), plain);
        assert_eq!(as_meant("oil0-1abc"), "01101ABC");
        let token = token().unwrap();
        assert_eq!((token.len(), as_meant(&token.to_ascii_uppercase())), (64, token.clone()));
        assert_ne!(hashed(&token), hashed(&super::token().unwrap()));
    }
}
