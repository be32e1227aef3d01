//! Stored forms of keys and of what they may sign.

use super::Twin;
use crate::fact::{Admission, ChainPlace, OverrideAnswer, Scope};
use crate::signature::PublicKey;

twin_words!(ScopeV1 = Scope { Records "records", Assessing "assessing", Owning "owning" });
twin!(ChainPlaceV1 = ChainPlace { sequence: u64, head: String });
twin!(AdmissionV1 = Admission {
    key: String,
    device: String,
    person: Option<String>,
    scope: ScopeV1,
    label: String,
});

twin!(
    OverrideAnswerV1 =
        OverrideAnswer { challenge: String, reason_code: String, trainee: String, allowed: bool, why: String }
);

impl Twin<PublicKey> for String {
    fn of(key: &PublicKey) -> Self {
        key.text()
    }

    fn back(self) -> Result<PublicKey, String> {
        PublicKey::read(&self)
    }
}
