//! The academy's particulars as fields; the settings use them too.

use leptos::prelude::*;
use practicum::ids::RegionId;

use crate::browser;
use crate::pages::form::{Field, SelectInput, TextInput, name, whole_number};
use crate::session::session;

/// Least minimum age that may be set.
const YOUNGEST: u32 = 14;
/// Highest minimum age that may be set.
const OLDEST: u32 = 99;

/// The fields of the academy itself, which the settings use too.
#[derive(Clone, Copy)]
pub(crate) struct AcademyFields {
    /// Name.
    pub(crate) name: Field,
    /// Identifier of the region.
    pub(crate) region: Field,
    /// Emergency number.
    pub(crate) emergency: Field,
    /// Minimum age.
    pub(crate) age: Field,
    /// Time zone.
    pub(crate) zone: Field,
}

/// The academy's particulars, read.
pub(crate) struct Particulars {
    /// Name.
    pub(crate) name: String,
    /// Region.
    pub(crate) region: RegionId,
    /// Emergency number.
    pub(crate) emergency: String,
    /// Minimum age.
    pub(crate) age: u32,
    /// Time zone.
    pub(crate) zone: String,
}

impl AcademyFields {
    /// Reads all fields; each says what is wrong with it.
    pub(crate) fn read(&self) -> Option<Particulars> {
        let title = self.name.read(|typed| name("the academy’s name", typed));
        let region = self.region.read(|typed| match typed {
            "" => Err("Choose the country or region: cautions and the tint rule follow it.".to_owned()),
            chosen => Ok(RegionId::from(chosen)),
        });
        let emergency = self.emergency.read(emergency_number);
        let age = self.age.read(|typed| whole_number(typed, YOUNGEST, OLDEST));
        let zone = self.zone.read(|typed| match time_zone(typed)? {
            zone if browser::clock::knows_time_zone(&zone) => Ok(zone),
            zone => Err(format!(
                "“{zone}” is no time zone that this browser knows: type area and city, such as Europe/Lisbon."
            )),
        });
        Some(Particulars { name: title?, region: region?, emergency: emergency?, age: age?, zone: zone? })
    }
}

/// Reads an emergency number: digits, perhaps with spaces, `+` or `-`.
fn emergency_number(typed: &str) -> Result<String, String> {
    let sign = |sign: char| sign.is_ascii_digit() || matches!(sign, ' ' | '+' | '-');
    let digits = typed.chars().filter(char::is_ascii_digit).count();
    if (2..=20).contains(&digits) && typed.chars().all(sign) {
        Ok(typed.to_owned())
    } else {
        Err("Type the emergency number with digits, such as 112. Dial only what you have checked yourself.".to_owned())
    }
}

/// Reads the name of a time zone such as `Europe/Lisbon`.
fn time_zone(typed: &str) -> Result<String, String> {
    let sign = |sign: char| sign.is_ascii_alphanumeric() || matches!(sign, '/' | '_' | '-' | '+');
    if !typed.is_empty() && typed.len() <= 64 && typed.chars().all(sign) {
        Ok(typed.to_owned())
    } else {
        Err("Type the time zone as area and city, such as Europe/Lisbon.".to_owned())
    }
}

/// The fields of the academy; a chosen region proposes its emergency number.
#[component]
pub(crate) fn AcademyInputs(
    /// The fields.
    fields: AcademyFields,
) -> impl IntoView {
    let session = session();
    let regions = move || session.book().map(|book| book.regions.clone()).unwrap_or_default();
    let words = move || regions().into_iter().map(|region| (region.id.to_string(), region.label)).collect::<Vec<_>>();
    let options = Signal::derive(words);
    let chosen = move || regions().into_iter().find(|region| fields.region.text.with(|id| region.id.as_str() == id));
    Effect::new(move |before: Option<(String, String)>| {
        // A proposal never overwrites what somebody typed: only an empty field or the last proposal.
        let region = fields.region.text.get();
        let proposal = chosen().map(|region| region.emergency_number).unwrap_or_default();
        if let Some((last_region, last)) = before
            && last_region != region
            && (fields.emergency.typed().is_empty() || fields.emergency.typed() == last)
        {
            fields.emergency.text.set(proposal.clone());
            fields.emergency.problem.set(None);
        }
        (region, proposal)
    });
    let note = move || chosen().map(|region| view! { <p class="small">"Tint here: "{region.tint_note}</p> });
    view! {
        <TextInput label="Name of the academy" id="academy-name" field=fields.name/>
        <SelectInput label="Country or region" id="academy-region" field=fields.region options=options
            hint="For the wording of cautions and the tint rule. Local rules come first."/>
        {note}
        <TextInput label="Emergency number" id="academy-emergency" field=fields.emergency keyboard="tel"
            hint="The region proposes one; check it. It is shown when a reaction is reported."/>
        <TextInput label="Minimum age of practice models, in years" id="academy-age" field=fields.age keyboard="numeric"
            hint="18 is a proposal, no source. Ask your insurer."/>
        <TextInput label="Time zone" id="academy-zone" field=fields.zone hint="As this device says it."/>
    }
}

#[cfg(test)]
mod tests {
    use super::{emergency_number, time_zone};

    #[test]
    fn an_emergency_number_has_digits() {
        for good in ["112", "999", "000", "+44 999", "1-1-2"] {
            assert!(emergency_number(good).is_ok(), "{good}");
        }
        for bad in ["", "1", "nine", "112; 113", "<b>112</b>"] {
            assert!(emergency_number(bad).is_err(), "{bad}");
        }
    }

    #[test]
    fn a_time_zone_is_one_word() {
        assert!(time_zone("America/Argentina/Buenos_Aires").is_ok());
        assert!(time_zone("Etc/GMT+5").is_ok());
        assert!(time_zone("").is_err());
        assert!(time_zone("Lisbon time").is_err());
    }
}
