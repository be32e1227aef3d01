//! Every place in the app by its address after `#`.

use practicum::ids::{CompetencyId, PersonId, PracticeModelId, ServiceId};

/// A place in the app.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Route {
    /// The start page.
    Start,
    /// Founding, joining or looking around.
    SetUp,
    /// Choosing what to begin at the couch.
    Couch,
    /// The run under way.
    CouchRun,
    /// The form for a service that was not logged live.
    LateEntry,
    /// The log with its filters as `name=value` pairs joined by `&`; empty without filters.
    Log {
        /// The filters.
        query: String,
    },
    /// One service with its times, marks and faults.
    Service(ServiceId),
    /// Marking a service.
    Mark(ServiceId),
    /// Correcting a service.
    Correct(ServiceId),
    /// Attendance, theory papers and hours.
    Attendance,
    /// What one trainee is coached in.
    Coach(PersonId),
    /// Agreement between assessors, and samples of the marking.
    Agreement,
    /// Signing several competencies in one go.
    SignMany,
    /// How long records are kept, and what falls due.
    Keeping,
    /// The register of certificates.
    Certificates,
    /// Course-end reviews: one, or a whole group.
    Reviews,
    /// One trainee's course-end review.
    Review(PersonId),
    /// One trainee's progress and standing.
    Progress(PersonId),
    /// Signing off a competency of a trainee.
    SignOff(PersonId, CompetencyId),
    /// Services that wait for marks.
    Marking,
    /// All trainees, in the order of their names.
    Group,
    /// Trainees, instructors and the owner.
    People,
    /// All practice models.
    PracticeModels,
    /// One practice model with consents and sensitivity tests.
    PracticeModel(PracticeModelId),
    /// Products with their dwell figures.
    Products,
    /// The course book in force.
    CourseBook,
    /// Bringing in a spreadsheet.
    Import,
    /// Exporting, restoring and handing over.
    HandOver,
    /// Who may sign for the academy.
    Keys,
    /// Settings of the academy and the device.
    Settings,
    /// First-response steps outside a run.
    FirstResponse,
    /// Checking a file.
    Verify,
    /// What does not hold together on this device.
    Problems,
    /// Erasing who a practice model is.
    ErasePracticeModel(PracticeModelId),
    /// Erasing who somebody was.
    ErasePerson(PersonId),
    /// An address that names no place; holds it as it was typed.
    NotFound(String),
}

impl Route {
    /// Reads an address, with or without its leading `#`.
    pub fn parse(hash: &str) -> Self {
        let address = hash.strip_prefix('#').unwrap_or(hash);
        let (path, query) = address.split_once('?').unwrap_or((address, ""));
        let path = path.strip_prefix('/').unwrap_or(path);
        let path = path.strip_suffix('/').unwrap_or(path);
        let parts: Option<Vec<String>> = path.split('/').map(decode).collect();
        let found = parts.and_then(|parts| {
            let parts: Vec<&str> = parts.iter().map(String::as_str).collect();
            named(&parts, query)
        });
        found.unwrap_or_else(|| Self::NotFound(address.to_owned()))
    }

    /// Writes the address, its leading `#` included.
    pub fn to_hash(&self) -> String {
        let one = |name: &str, id: &str| format!("#/{name}/{}", encode(id));
        let plain = |name: &str| format!("#/{name}");
        match self {
            Self::Start => plain(""),
            Self::SetUp => plain("set-up"),
            Self::Couch => plain("couch"),
            Self::CouchRun => plain("couch/run"),
            Self::LateEntry => plain("late-entry"),
            Self::Log { query } if query.is_empty() => plain("log"),
            Self::Log { query } => format!("#/log?{query}"),
            Self::Service(id) => one("service", id.as_str()),
            Self::Mark(id) => one("mark", id.as_str()),
            Self::Correct(id) => one("correct", id.as_str()),
            Self::Attendance => plain("attendance"),
            Self::Coach(id) => one("coach", id.as_str()),
            Self::Agreement => plain("agreement"),
            Self::SignMany => plain("sign-several"),
            Self::Keeping => plain("keeping"),
            Self::Certificates => plain("certificates"),
            Self::Reviews => plain("reviews"),
            Self::Review(id) => one("review", id.as_str()),
            Self::Progress(id) => one("progress", id.as_str()),
            Self::SignOff(person, competency) => {
                format!("{}/{}", one("sign-off", person.as_str()), encode(competency.as_str()))
            }
            Self::Marking => plain("marking"),
            Self::Group => plain("group"),
            Self::People => plain("people"),
            Self::PracticeModels => plain("practice-models"),
            Self::PracticeModel(id) => one("practice-model", id.as_str()),
            Self::Products => plain("products"),
            Self::CourseBook => plain("course-book"),
            Self::Import => plain("import"),
            Self::HandOver => plain("hand-over"),
            Self::Keys => plain("keys"),
            Self::Settings => plain("settings"),
            Self::FirstResponse => plain("first-response"),
            Self::Verify => plain("verify"),
            Self::Problems => plain("problems"),
            Self::ErasePracticeModel(id) => one("erase/practice-model", id.as_str()),
            Self::ErasePerson(id) => one("erase/person", id.as_str()),
            Self::NotFound(address) => format!("#{address}"),
        }
    }
}

fn named(parts: &[&str], query: &str) -> Option<Route> {
    Some(match *parts {
        [""] => Route::Start,
        ["set-up"] => Route::SetUp,
        ["couch"] => Route::Couch,
        ["couch", "run"] => Route::CouchRun,
        ["late-entry"] => Route::LateEntry,
        ["log"] => Route::Log { query: query.to_owned() },
        ["marking"] => Route::Marking,
        ["group"] => Route::Group,
        ["attendance"] => Route::Attendance,
        ["coach", id] => Route::Coach(PersonId::new(id)),
        ["agreement"] => Route::Agreement,
        ["sign-several"] => Route::SignMany,
        ["keeping"] => Route::Keeping,
        ["certificates"] => Route::Certificates,
        ["reviews"] => Route::Reviews,
        ["review", id] => Route::Review(PersonId::new(id)),
        ["people"] => Route::People,
        ["practice-models"] => Route::PracticeModels,
        ["products"] => Route::Products,
        ["course-book"] => Route::CourseBook,
        ["import"] => Route::Import,
        ["hand-over"] => Route::HandOver,
        ["keys"] => Route::Keys,
        ["settings"] => Route::Settings,
        ["first-response"] => Route::FirstResponse,
        ["verify"] => Route::Verify,
        ["problems"] => Route::Problems,
        [_, ""] | [_, "", _] | [_, _, ""] => return None,
        ["service", id] => Route::Service(id.into()),
        ["mark", id] => Route::Mark(id.into()),
        ["correct", id] => Route::Correct(id.into()),
        ["progress", id] => Route::Progress(id.into()),
        ["practice-model", id] => Route::PracticeModel(id.into()),
        ["erase", "practice-model", id] => Route::ErasePracticeModel(id.into()),
        ["erase", "person", id] => Route::ErasePerson(id.into()),
        ["sign-off", person, competency] => Route::SignOff(person.into(), competency.into()),
        _ => return None,
    })
}

/// Makes any text fit for one part of an address: all but unreserved letters becomes `%` and two hexadecimal digits.
pub fn encode(text: &str) -> String {
    let mut coded = String::with_capacity(text.len());
    for byte in text.bytes() {
        if byte.is_ascii_alphanumeric() || matches!(byte, b'-' | b'.' | b'_' | b'~') {
            coded.push(char::from(byte));
        } else {
            coded.push_str(&format!("%{byte:02X}"));
        }
    }
    coded
}

/// Reads a part of an address that [`encode`] made; nothing when it is cut short or not UTF-8.
pub fn decode(coded: &str) -> Option<String> {
    let mut bytes = Vec::with_capacity(coded.len());
    let mut rest = coded.bytes();
    while let Some(byte) = rest.next() {
        if byte == b'%' {
            let mut digit = || rest.next().and_then(|digit| char::from(digit).to_digit(16));
            let value = digit()? * 16 + digit()?;
            bytes.push(u8::try_from(value).ok()?);
        } else {
            bytes.push(byte);
        }
    }
    String::from_utf8(bytes).ok()
}

/// Lists every kind of place once, by its name and an address with sample identifiers.
pub fn every_route() -> Vec<(&'static str, String)> {
    let samples = std::iter::successors(Some(Route::Start), after);
    samples.map(|route| (name(&route), route.to_hash())).collect()
}

/// Returns a sample of the next kind of place; a kind that is missing here does not compile.
fn after(route: &Route) -> Option<Route> {
    Some(match route {
        Route::Start => Route::SetUp,
        Route::SetUp => Route::Couch,
        Route::Couch => Route::CouchRun,
        Route::CouchRun => Route::LateEntry,
        Route::LateEntry => Route::Log { query: String::new() },
        Route::Log { .. } => Route::Service("sample-service".into()),
        Route::Service(id) => Route::Mark(id.clone()),
        Route::Mark(id) => Route::Correct(id.clone()),
        Route::Correct(_) => Route::Progress("sample-trainee".into()),
        Route::Progress(person) => Route::SignOff(person.clone(), "sample-competency".into()),
        Route::SignOff(..) => Route::Attendance,
        Route::Attendance => Route::Coach("sample-trainee".into()),
        Route::Coach(_) => Route::Agreement,
        Route::Agreement => Route::SignMany,
        Route::SignMany => Route::Keeping,
        Route::Keeping => Route::Certificates,
        Route::Certificates => Route::Reviews,
        Route::Reviews => Route::Review("sample-trainee".into()),
        Route::Review(_) => Route::Marking,
        Route::Marking => Route::Group,
        Route::Group => Route::People,
        Route::People => Route::PracticeModels,
        Route::PracticeModels => Route::PracticeModel("sample-practice-model".into()),
        Route::PracticeModel(_) => Route::Products,
        Route::Products => Route::CourseBook,
        Route::CourseBook => Route::Import,
        Route::Import => Route::HandOver,
        Route::HandOver => Route::Keys,
        Route::Keys => Route::Settings,
        Route::Settings => Route::FirstResponse,
        Route::FirstResponse => Route::Verify,
        Route::Verify => Route::Problems,
        Route::Problems => Route::ErasePracticeModel("sample-practice-model".into()),
        Route::ErasePracticeModel(_) => Route::ErasePerson("sample-person".into()),
        Route::ErasePerson(_) => Route::NotFound("/no-such-place".to_owned()),
        Route::NotFound(_) => return None,
    })
}

fn name(route: &Route) -> &'static str {
    match route {
        Route::Start => "start",
        Route::SetUp => "set-up",
        Route::Couch => "couch",
        Route::CouchRun => "couch-run",
        Route::LateEntry => "late-entry",
        Route::Log { .. } => "log",
        Route::Service(_) => "service",
        Route::Mark(_) => "mark",
        Route::Correct(_) => "correct",
        Route::Progress(_) => "progress",
        Route::SignOff(..) => "sign-off",
        Route::Attendance => "attendance",
        Route::Coach(_) => "coach",
        Route::Agreement => "agreement",
        Route::SignMany => "sign-several",
        Route::Keeping => "keeping",
        Route::Certificates => "certificates",
        Route::Reviews => "reviews",
        Route::Review(_) => "review",
        Route::Marking => "marking",
        Route::Group => "group",
        Route::People => "people",
        Route::PracticeModels => "practice-models",
        Route::PracticeModel(_) => "practice-model",
        Route::Products => "products",
        Route::CourseBook => "course-book",
        Route::Import => "import",
        Route::HandOver => "hand-over",
        Route::Keys => "keys",
        Route::Settings => "settings",
        Route::FirstResponse => "first-response",
        Route::Verify => "verify",
        Route::Problems => "problems",
        Route::ErasePracticeModel(_) => "erase-practice-model",
        Route::ErasePerson(_) => "erase-person",
        Route::NotFound(_) => "not-found",
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_place_comes_back_from_its_address() {
        for route in std::iter::successors(Some(Route::Start), after) {
            assert_eq!(Route::parse(&route.to_hash()), route);
        }
    }

    #[test]
    fn names_and_addresses_are_all_different() {
        let all = every_route();
        assert_eq!(all.len(), 36);
        let names: std::collections::BTreeSet<_> = all.iter().map(|(name, _)| name).collect();
        let hashes: std::collections::BTreeSet<_> = all.iter().map(|(_, hash)| hash).collect();
        assert_eq!((names.len(), hashes.len()), (36, 36));
    }

    #[test]
    fn awkward_identifiers_survive_the_address() {
        for id in ["a/b", "50%", "?x=1&y", "#", "Zoë 李 💡", "<b>\"'", "..", "%2F"] {
            let service = Route::Service(id.into());
            assert_eq!(Route::parse(&service.to_hash()), service, "{id}");
            let sign_off = Route::SignOff(id.into(), id.into());
            assert_eq!(Route::parse(&sign_off.to_hash()), sign_off, "{id}");
        }
    }

    #[test]
    fn filters_of_the_log_survive_the_address() {
        let log = Route::Log { query: "trainee=Ana%20B&plan=halves".to_owned() };
        assert_eq!(log.to_hash(), "#/log?trainee=Ana%20B&plan=halves");
        assert_eq!(Route::parse(&log.to_hash()), log);
    }

    #[test]
    fn an_address_without_its_sign_or_with_a_closing_stroke_is_read() {
        assert_eq!(Route::parse(""), Route::Start);
        assert_eq!(Route::parse("#"), Route::Start);
        assert_eq!(Route::parse("/"), Route::Start);
        assert_eq!(Route::parse("/couch/run"), Route::CouchRun);
        assert_eq!(Route::parse("#/people/"), Route::People);
    }

    #[test]
    fn what_names_no_place_is_kept_as_typed() {
        for address in [
            "/nowhere",
            "/service",
            "/service/",
            "/service/a/b",
            "/sign-off/a",
            "/sign-off//b",
            "/mark/%zz",
            "/mark/%E9",
            "/mark/%4",
        ] {
            assert_eq!(Route::parse(address), Route::NotFound(address.to_owned()), "{address}");
            assert_eq!(Route::parse(address).to_hash(), format!("#{address}"));
        }
    }
}
