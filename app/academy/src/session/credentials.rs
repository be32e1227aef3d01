//! Open credentials of certificates, signed by the owner's own key or by the browser's key for credentials.

use leptos::prelude::*;
use logbook::Recorded;
use logbook::credential::{Credential, Signer, Stands, joined};
use logbook::fact::{Certified, Fact};
use logbook::review_code::trainee_code;
use practicum::certificate::{Certificate, CredentialKey};

use super::Session;
use crate::browser::rsa::RsaKey;

/// Name under which the browser keeps the key for credentials.
const KEPT: &str = "credential-rs256";

impl Session {
    /// Makes the open credential of a certificate as a JWT: RS256 by the browser's key for credentials, which an entry
    /// signed by the owner tells of, or EdDSA by the owner's own key.
    ///
    /// # Errors
    /// Returns a sentence when the owner has not unlocked, there is no key, or the browser refuses.
    pub(crate) async fn open_credential(
        &self,
        certificate: &Recorded<Certificate>,
        rsa: bool,
    ) -> Result<String, String> {
        if !untrack(|| self.is_owner()) {
            return Err("Only the owner hands out credentials, unlocked at the top.".to_owned());
        }
        let key = untrack(|| self.academy_key())
            .ok_or("This academy has no key, so nobody can sign its credentials: see “Keys”.")?;
        let records = self.records_now();
        if records.withdrawal_of(&certificate.entry).is_some() {
            return Err("This certificate is withdrawn: no credential is made of it.".to_owned());
        }
        let name = |id| untrack(|| self.person_name(id));
        let code = trainee_code(&certificate.value.trainee, &key);
        let book = untrack(|| self.book());
        let stands = |id: &practicum::ids::EntryId| {
            let known = records.sign_off_record(id)?;
            let competency = book.as_ref().and_then(|book| book.competency(&known.value.competency));
            let label = competency.map_or_else(|| known.value.competency.to_string(), |one| one.label.clone());
            let asked = competency.map(|one| {
                let asked = &one.evidence;
                format!(
                    "{} live services marked by an assessor, {} of them acceptable, {} observed from end to end, {} assessors.",
                    asked.live, asked.acceptable, asked.observed, asked.assessors
                )
            });
            Some(Stands {
                competency: label,
                level: known.value.level,
                by: name(&known.value.by),
                at: known.value.at,
                asked: asked.unwrap_or_default(),
                hash: known.hash.clone(),
            })
        };
        let stands_on: Vec<Stands> = certificate.value.sign_offs.iter().filter_map(stands).collect();
        let academy = records.academy().map(|academy| academy.name.clone()).unwrap_or_default();
        let (entry, trainee) = (certificate.entry.to_string(), name(&certificate.value.trainee));
        let credential = Credential {
            certificate: &certificate.value,
            entry: &entry,
            issued: certificate.recorded_at,
            academy: &academy,
            trainee: &trainee,
            code: &code,
            stands_on: &stands_on,
        };
        if !rsa {
            let said = |key| {
                let text = credential.to_sign(&Signer::ed25519(&key));
                let bytes = text.clone().unwrap_or_default().into_bytes();
                (text, bytes)
            };
            let (text, signature) = self.sign_as_owner(said).await?;
            return Ok(joined(&text?, signature.bytes()));
        }
        let key = self.credential_key().await?;
        let text = credential.to_sign(&Signer::rsa(key.jwk())?)?;
        let signature =
            key.sign(text.as_bytes()).await.ok_or("The browser refused to sign. Nothing was handed out.")?;
        Ok(joined(&text, &signature))
    }

    /// Returns the browser's key for credentials; makes it, and tells of it in the log, where there is none yet.
    async fn credential_key(&self) -> Result<RsaKey, String> {
        let database = self.database()?;
        let say = |error: crate::browser::store::StoreError| error.to_string();
        let kept = database.pair(KEPT).await.map_err(say)?;
        let known = match kept {
            Some(pair) => RsaKey::of(pair).await,
            None => None,
        };
        let key = match known {
            Some(key) => key,
            None => {
                let key = RsaKey::make().await.ok_or("This browser makes no key for RS256.")?;
                database.keep_pair(KEPT, key.pair()).await.map_err(say)?;
                key
            }
        };
        let signer = Signer::rsa(key.jwk())?;
        let jwk = signer.jwk.to_string();
        let told = self.records_now().credential_keys().iter().any(|known| known.value.jwk == jwk);
        if !told {
            let made = CredentialKey { algorithm: signer.algorithm.to_owned(), jwk };
            self.write(vec![Fact::Certified(Certified::CredentialKeyMade(made))]).await?;
        }
        Ok(key)
    }
}
