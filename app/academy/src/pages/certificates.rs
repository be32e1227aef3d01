//! The register of certificates: number, date, scope, assessor; copies and withdrawals.

use leptos::prelude::*;
use logbook::Recorded;
use logbook::fact::{Certified, Fact};
use logbook::review_code::hash_of;
use practicum::certificate::{Certificate, CertificatePrint, CertificateScope, CertificateWithdrawal};
use practicum::competency::Decision;
use practicum::ids::PersonId;

use super::form::{ChoiceInput, Field, OnceUnlocked, Saving, SavingLine, SelectInput, TextInput};
use crate::browser;
use crate::components::{Page, When};
use crate::session::{Session, reading, session};

/// The register.
#[component]
pub(crate) fn CertificatesPage() -> impl IntoView {
    let session = session();
    let all = move || {
        let mut all: Vec<Recorded<Certificate>> = session.records().certificates().into_iter().cloned().collect();
        all.reverse();
        all
    };
    view! {
        <Page title="Register of certificates">
            <p>"A certificate says what this academy saw and signed off. It is not a licence: whether somebody may work on the public is for the law, the licensing board and the insurer of the place to say."</p>
            <OnceUnlocked owner=true fallback=|| view! {
                <p class="notice notice-info">"● The owner issues, prints and withdraws certificates, unlocked at the top."</p>
            }>
                <IssueForm/>
            </OnceUnlocked>
            <h2>"Issued"</h2>
            <When when=move || all().is_empty()><p>"○ None was issued yet."</p></When>
            <For each=all key=|one| one.entry.clone() let:one><CertificateCard certificate=one/></For>
        </Page>
    }
}

/// Letters of this device before its numbers, so that no two devices give one number twice.
fn prefix(session: Session) -> String {
    let device = session.device();
    hash_of(device.as_str().as_bytes()).chars().take(4).collect::<String>().to_uppercase()
}

fn next_number(session: Session) -> String {
    let prefix = prefix(session);
    let records = session.records_now();
    let mine = records.certificates().into_iter().filter_map(|one| {
        one.value.number.strip_prefix(&format!("{prefix}-")).and_then(|number| number.parse::<u32>().ok())
    });
    format!("{prefix}-{:04}", mine.max().unwrap_or(0).saturating_add(1))
}

#[component]
fn IssueForm() -> impl IntoView {
    let session = session();
    let (trainee, scope, saving) = (Field::empty(), Field::empty(), Saving::new());
    let people = Signal::derive(move || {
        session.trainees().into_iter().map(|person| (person.id.to_string(), person.name)).collect::<Vec<_>>()
    });
    let scopes = [CertificateScope::Lift, CertificateScope::LiftAndTint]
        .map(|one| (one.word().to_owned(), one.word().to_owned()));
    let issue = move |_| {
        saving.hush();
        let chosen = trainee
            .read(|typed| if typed.is_empty() { Err("Choose for whom.".to_owned()) } else { Ok(PersonId::new(typed)) });
        let of = scope.read(|typed| match typed {
            typed if typed == CertificateScope::Lift.word() => Ok(CertificateScope::Lift),
            typed if typed == CertificateScope::LiftAndTint.word() => Ok(CertificateScope::LiftAndTint),
            _ => Err("Choose what it speaks of.".to_owned()),
        });
        let (Some(trainee), Some(scope)) = (chosen, of) else { return };
        match untrack(|| made(session, &trainee, scope)) {
            Err(sentence) => saving.say(Err(sentence)),
            Ok(certificate) => {
                let done = format!("Certificate {} is issued.", certificate.number);
                saving.write(session, vec![Fact::Certified(Certified::Issued(certificate))], done, || {});
            }
        }
    };
    view! {
        <section class="stack">
            <h2>"Issue one"</h2>
            <SelectInput label="For" id="certificate-for" field=trainee options=people/>
            <ChoiceInput legend="It speaks of" id="certificate-scope" field=scope options=scopes.to_vec()/>
            <SavingLine saving=saving/>
            <button type="button" class="button-primary" disabled=move || saving.busy() on:click=issue>"Issue it"</button>
        </section>
    }
}

/// Puts a certificate together on what is signed off now.
fn made(session: Session, trainee: &PersonId, scope: CertificateScope) -> Result<Certificate, String> {
    let book = session.book().ok_or("No course book is in force.")?;
    let whole =
        book.competencies.iter().find(|one| one.whole_service).ok_or("The course book names no whole service.")?;
    let rows = session.competencies(trainee);
    let signed: Vec<_> = rows
        .iter()
        .filter(|row| row.held == practicum::competency::Held::Signed)
        .map(|row| &row.competency.id)
        .collect();
    if !signed.contains(&&whole.id) {
        return Err(format!("“{}” is not signed off and in force for this trainee: nothing was issued.", whole.label));
    }
    let records = session.records_now();
    let last = |id: &practicum::ids::CompetencyId| {
        let own = records.sign_offs().into_iter().filter(|one| one.trainee == *trainee && one.competency == *id);
        own.max_by_key(|one| one.at).filter(|one| one.decision == Decision::Signed).cloned()
    };
    let stands_on: Vec<_> = signed.iter().filter_map(|id| last(id)).collect();
    let assessor = last(&whole.id).map(|one| one.by).ok_or("The sign-off of the whole service is not here.")?;
    let record = session.record_file(trainee, false)?;
    Ok(Certificate {
        number: next_number(session),
        trainee: trainee.clone(),
        scope,
        sign_offs: stands_on.into_iter().map(|one| one.id).collect(),
        assessor,
        on: reading().at.date_naive(),
        course_book: book.id.clone(),
        record_hash: hash_of(record.as_bytes()),
    })
}

#[component]
fn CertificateCard(
    /// The certificate.
    certificate: Recorded<Certificate>,
) -> impl IntoView {
    let session = session();
    let (why, saving) = (Field::empty(), Saving::new());
    let value = certificate.value.clone();
    let [name, assessor] = [&value.trainee, &value.assessor].map(|id| untrack(|| session.person_name(id)));
    let academy = untrack(|| session.records()).academy().map(|academy| academy.name.clone()).unwrap_or_default();
    let entry = StoredValue::new(certificate.entry.clone());
    let gone = move || entry.with_value(|entry| session.records().withdrawal_of(entry).cloned());
    let copies = move || entry.with_value(|entry| session.records().prints_of(entry).len());
    let signed = untrack(|| session.signed_words(&certificate.entry));
    let trainee = value.trainee.clone();
    let print = Callback::new(move |()| {
        let copy = u32::try_from(untrack(copies)).unwrap_or(u32::MAX).saturating_add(1);
        let print = CertificatePrint { certificate: entry.get_value(), trainee: trainee.clone(), copy };
        // The copy is recorded before it is printed.
        let number = entry.with_value(|entry| format!("certificate-{entry}"));
        saving.write(
            session,
            vec![Fact::Certified(Certified::Printed(print))],
            format!("Copy {copy} is recorded."),
            move || {
                leptos::task::spawn_local(async move {
                    browser::timer::pause(60).await;
                    browser::page::print_alone(&number);
                });
            },
        );
    });
    let trainee = value.trainee.clone();
    let withdraw = Callback::new(move |()| {
        if why.typed().trim().is_empty() {
            why.refuse("Say why it is withdrawn.");
            return;
        }
        let withdrawal =
            CertificateWithdrawal { certificate: entry.get_value(), trainee: trainee.clone(), why: why.typed() };
        saving.write(
            session,
            vec![Fact::Certified(Certified::Withdrawn(withdrawal))],
            "It is withdrawn.".to_owned(),
            || {},
        );
    });
    let known = StoredValue::new(certificate.clone());
    let hand_out = Callback::new(move |rsa: bool| {
        let act = async move {
            let jwt = session.open_credential(&known.get_value(), rsa).await?;
            let (number, kind) =
                (known.with_value(|known| known.value.number.clone()), if rsa { "rs256" } else { "eddsa" });
            let name = format!("upsweep-credential-{number}-{kind}.jwt");
            match browser::file::download(&name, "application/vc+jwt", &jwt) {
                true => Ok(format!("“{name}” was handed to the browser.")),
                false => Err("The browser refused to save the file.".to_owned()),
            }
        };
        saving.run(act, || {});
    });
    let state = move || match gone() {
        Some(gone) => format!("■ Withdrawn on {}: {}", gone.recorded_at.date_naive(), gone.value.why),
        None => "✓ In force by the records on this device.".to_owned(),
    };
    let copy_words = move || match copies() {
        0 => "Not printed yet.".to_owned(),
        1 => "Copy 1.".to_owned(),
        more => format!("Copy {more}: printed again."),
    };
    view! {
        <div class="card stack" id=format!("certificate-{}", certificate.entry)>
            <h3>{format!("Certificate {}", value.number)}</h3>
            <p class="lead">{name}</p>
            <p>{format!("{academy} has assessed and signed off: {}.", value.scope.word())}</p>
            <p>{format!("Issued on {}. Assessor: {assessor}. Course book: “{}”.", value.on, value.course_book)}</p>
            <p>{state}</p>
            <p class="small">{copy_words}" "{format!("Signature: {signed}.")}</p>
            <p class="small">"Hash of the record as it stood: "<code class="cell-long">{value.record_hash.clone()}</code></p>
            <p class="small">"This is a training certificate of the academy and not a licence. As of its date; a later withdrawal shows only with a newer record file."</p>
            <When when=move || session.is_owner()>
                <p class="toolbar"><button type="button" disabled=move || saving.busy() on:click=move |_| print.run(())>"Print a copy"</button>
                    <button type="button" disabled=move || saving.busy() on:click=move |_| hand_out.run(true)>"Open credential (RS256)"</button>
                    <button type="button" disabled=move || saving.busy() on:click=move |_| hand_out.run(false)>"Open credential (EdDSA)"</button></p>
                <p class="small">"An open credential (Open Badges 3.0, as a signed JWT) proves that one key signed it and that nothing in it was changed since. It does not prove who holds that key: tell the key’s fingerprint on another way. It names the trainee."</p>
                <When when={move || gone().is_none()}>
                    <details class="form-part"><summary>"Withdraw it"</summary>
                        <TextInput label="Why" id=entry.with_value(|entry| format!("withdraw-{entry}")) field=why/>
                        <button type="button" class="button-danger" disabled=move || saving.busy() on:click=move |_| withdraw.run(())>"Withdraw this certificate"</button>
                    </details>
                </When>
            </When>
            <SavingLine saving=saving/>
        </div>
    }
}
