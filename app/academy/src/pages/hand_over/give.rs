//! Giving: for whom, how much, and as what.

use std::collections::BTreeSet;

use leptos::prelude::*;
use logbook::hand_over::{Bodies, Choice, codes};
use logbook::size::in_words;
use practicum::ids::PracticeModelId;
use practicum::moment::Moment;

use super::code_run::CodeRun;
use crate::browser;
use crate::components::{CodeReader, Folded, When};
use crate::pages::form::{ChoiceInput, Field, LongInput, Saving, SavingLine, SelectInput, TextInput, TickInput, day};
use crate::session::{Given, Session, session};

/// Values of the choice for whom: everything, one's own records, or a trainee's identifier behind a mark.
const ALL: &str = "all";
const OWN: &str = "own";
const TRAINEE: &str = "trainee:";

/// What the form asks.
#[derive(Clone, Copy)]
struct Form {
    session: Session,
    whom: Field,
    how_much: Field,
    holds: Field,
    since: Field,
    passphrase: Field,
    again: Field,
    also: StoredValue<Vec<(PracticeModelId, String, RwSignal<bool>)>>,
}

impl Form {
    fn new(session: Session) -> Self {
        let known = untrack(|| session.practice_models());
        let also = known.into_iter().map(|known| (known.id, known.code, RwSignal::new(false))).collect();
        let whom = if untrack(|| session.may_see_private()) { ALL } else { OWN };
        Self {
            session,
            whom: Field::of(whom),
            how_much: Field::of("whole"),
            holds: Field::empty(),
            since: Field::empty(),
            passphrase: Field::empty(),
            again: Field::empty(),
            also: StoredValue::new(also),
        }
    }

    /// For whom a file may be written now, with words.
    fn whoms(self) -> Vec<(String, String)> {
        let mut whoms = Vec::new();
        if self.session.may_see_private() {
            whoms.push((ALL.to_owned(), "Instructor, owner, backup: everything".to_owned()));
            let named = |person: practicum::person::Person| {
                (format!("{TRAINEE}{}", person.id), format!("{}’s device: own records", person.name))
            };
            whoms.extend(self.session.trainees().into_iter().map(named));
        } else if self.session.own_trainee().is_some() {
            whoms.push((OWN.to_owned(), "An instructor: my own records".to_owned()));
        }
        whoms
    }

    fn choice(self) -> Option<Choice> {
        let whoms = untrack(|| self.whoms());
        let whom = self.whom.read(|value| match value {
            // The lock has closed or opened since: what can be chosen now is the first.
            value if !whoms.iter().any(|(known, _)| known == value) => Err(NOBODY.to_owned()),
            ALL => Ok(Bodies::All),
            OWN => untrack(|| self.session.own_trainee()).map(|own| Bodies::of(&own)).ok_or_else(|| NOBODY.to_owned()),
            value => {
                let trainee = value.strip_prefix(TRAINEE).unwrap_or_default().into();
                let ticked = self.also.with_value(|also| {
                    let ticked = also.iter().filter(|(_, _, ticked)| ticked.get_untracked());
                    ticked.map(|(id, _, _)| id.clone()).collect::<BTreeSet<_>>()
                });
                Ok(Bodies::Of { trainee, also: ticked })
            }
        });
        let (lacking, since) = match self.how_much.typed().as_str() {
            "lacks" => (Some(self.holds.read(|line| self.session.read_holds(line))?), None),
            "since" => (None, Some(self.since.read(begin_of)?)),
            _ => (None, None),
        };
        Some(Choice { bodies: whom?, lacking, since, says_holds: true })
    }

    /// Returns the passphrase, if one is wanted; `None` when the two do not agree or it is too short.
    fn passphrase(self) -> Option<Option<String>> {
        let typed = self.passphrase.typed();
        if typed.is_empty() {
            self.again.problem.set(None);
            return Some(None);
        }
        let wanted = self.passphrase.read(|typed| match logbook::sealed::check_passphrase(typed) {
            Ok(()) => Ok(typed.to_owned()),
            Err(error) => Err(format!("Choose another one: {error}.")),
        })?;
        let same = |again: &str| {
            if again == typed { Ok(()) } else { Err("The two are not the same: type both again.".to_owned()) }
        };
        self.again.read(same)?;
        Some(Some(wanted))
    }

    /// Writes the file as the form asks. The sentence says why not.
    async fn write(self) -> Result<(Choice, Given), String> {
        if untrack(|| self.whoms()).is_empty() {
            return Err("The lock is closed: unlock at the top as an instructor or the owner, then save.".to_owned());
        }
        let beside = || "Look at the field marked above.".to_owned();
        let choice = self.choice().ok_or_else(beside)?;
        let passphrase = self.passphrase().ok_or_else(beside)?;
        let given = self.session.give(&choice, passphrase.as_deref()).await?;
        if given.entries == 0 {
            return Err("There is nothing to hand over: the other device has all of it, or nothing was written since \
                        that day."
                .to_owned());
        }
        Ok((choice, given))
    }
}

const NOBODY: &str = "Choose for whom, or unlock at the top as an instructor or the owner.";

/// Reads a day as its beginning by this device's clock.
fn begin_of(typed: &str) -> Result<Moment, String> {
    let day = day(typed)?.ok_or_else(|| "Say from which day on.".to_owned())?;
    let now = crate::session::reading().at;
    let begin = day.and_hms_opt(0, 0, 0).and_then(|begin| begin.and_local_timezone(*now.offset()).single());
    begin.ok_or_else(|| "This day has no beginning on this device’s clock: choose the day before.".to_owned())
}

fn name_of(session: Session, choice: &Choice) -> String {
    let day = crate::session::reading().at.format("%Y-%m-%d").to_string();
    let demo = if session.demo() { "demo-" } else { "" };
    let part = if choice.lacking.is_some() || choice.since.is_some() { "part-" } else { "" };
    format!("upsweep-{demo}{part}{day}.upsweep")
}

fn say(given: &Given) -> String {
    let headers = match given.entries.saturating_sub(given.with_bodies) {
        0 => String::new(),
        headers => format!(" {headers} of them by header only."),
    };
    let entries = if given.entries == 1 { "1 entry".to_owned() } else { format!("{} entries", given.entries) };
    format!("{entries}, {}.{headers}", in_words(given.bytes.len() as u64))
}

/// Hands out what is chosen, and services as a spreadsheet.
#[component]
pub(super) fn Give() -> impl IntoView {
    let session = session();
    let form = Form::new(session);
    let saving = Saving::new();
    let run = RwSignal::new(Vec::<String>::new());
    let whoms = Memo::new(move |_| form.whoms());
    // What was chosen may be out of reach when the lock closes or opens: the first choice takes its place.
    Effect::new(move |_| {
        let whoms = whoms.get();
        if !whoms.iter().any(|(value, _)| form.whom.text.with_untracked(|chosen| chosen == value)) {
            form.whom.text.set(whoms.first().map(|(value, _)| value.clone()).unwrap_or_default());
        }
    });
    let for_trainee = move || form.whom.text.with(|whom| whom.starts_with(TRAINEE));
    let for_all = move || form.whom.text.with(|whom| whom == ALL);
    let plain = move || form.passphrase.text.with(|typed| typed.trim().is_empty());
    let part = move |which: &'static str| form.how_much.text.with(|part| part == which);
    let save = move |_| {
        let act = async move {
            let (choice, given) = form.write().await?;
            if !browser::file::download_bytes(&name_of(session, &choice), "application/octet-stream", &given.bytes) {
                return Err("The browser refused to save the file.".to_owned());
            }
            let taken = format!(
                "The file was handed to the browser: {} Check that it is where you keep such files.",
                say(&given)
            );
            if choice.bodies != Bodies::All || choice.lacking.is_some() || choice.since.is_some() {
                return Ok(taken);
            }
            Ok(match session.note_backup().await {
                Ok(()) => taken,
                Err(sentence) => format!("{taken} The day of this backup could not be kept in mind: {sentence}"),
            })
        };
        saving.run(act, || {});
    };
    let share_kind = browser::file::share_kind();
    let share = move |_| {
        let Some((ending, kind)) = share_kind else { return };
        let act = async move {
            let (choice, given) = form.write().await?;
            let name = format!("{}{ending}", name_of(session, &choice));
            match browser::file::share(&name, kind, &given.bytes).await {
                Ok(true) => Ok(format!("The file was handed to the system: {}", say(&given))),
                Ok(false) => Ok("Nothing was shared.".to_owned()),
                Err(words) => Err(format!("The system did not take it ({words}): save it as a file instead.")),
            }
        };
        saving.run(act, || {});
    };
    let show = move |_| {
        run.set(Vec::new());
        let act = async move {
            let (_, given) = form.write().await?;
            let texts = codes::cut(&given.bytes).map_err(codes::too_many)?;
            run.try_set(texts);
            Ok(format!("The codes stand below: {}", say(&given)))
        };
        saving.run(act, || {});
    };
    let services = move |_| {
        let outcome = crate::pages::log::download(session, &session.services());
        let taken = "The spreadsheet was handed to the browser. Check that it is where you keep such files.";
        saving.say(outcome.map(|()| taken.to_owned()).map_err(str::to_owned));
    };
    let collecting = StoredValue::new(codes::Collecting::default());
    let heard = Callback::new(move |text: String| {
        // A long line comes as a run of codes.
        let heard = collecting.try_update_value(|collecting| collecting.hear(&text));
        let line = match heard {
            Some(codes::Heard::Whole(bytes)) => String::from_utf8(bytes).unwrap_or_default(),
            _ => text,
        };
        let found = logbook::hand_over::Holds::looks_like(&line);
        if found {
            form.holds.text.set(line);
            form.holds.problem.set(None);
        }
        !found
    });
    view! {
        <h2>"Give"</h2>
        <crate::pages::settings::BackupLine/>
        <div class="stack">
            <When when=move || whoms.with(|whoms| !whoms.is_empty()) fallback=|| view! {
                <p>"To give something, say at the top who is using this device; an instructor or the owner unlocks."</p>
            }>
                <SelectInput label="For whom" id="give-whom" field=form.whom options=whoms/>
            </When>
            <When when=for_trainee>
                <Folded class="folded" head=view! { "Practice models that go along" }.into_any()>
                    <p class="small">"Consents, screenings and tests of those this trainee has worked on go along anyway. Tick others that are booked with the trainee. Names and contacts stay here."</p>
                    {form.also.with_value(|also| also.iter().map(|(_, code, ticked)| {
                        view! { <TickInput label=code.clone() ticked=*ticked/> }
                    }).collect_view())}
                </Folded>
            </When>
            <ChoiceInput legend="How much" id="give-part" field=form.how_much options=vec![
                ("whole".to_owned(), "Everything".to_owned()),
                ("lacks".to_owned(), "Only what the other device lacks".to_owned()),
                ("since".to_owned(), "Only from a day on".to_owned()),
            ]/>
            <When when=move || part("lacks")>
                <p class="small">"The other device says what it holds, on its page of hand-over under “What this device holds”: scan the code there, or paste the line."</p>
                <LongInput label="What the other device holds" id="give-holds" field=form.holds/>
                <CodeReader id="give-holds-code" on_text=heard/>
            </When>
            <When when=move || part("since")>
                <TextInput label="From this day on" id="give-since" field=form.since kind="date"/>
            </When>
            <TextInput label="Passphrase (optional)" id="give-passphrase" field=form.passphrase kind="password"
                hint="At least 12 characters, several words. Without it nobody opens the file, and nobody can help: tell it to the other person in another way."/>
            <When when=move || !plain()>
                <TextInput label="The passphrase again" id="give-again" field=form.again kind="password"/>
            </When>
            <When when=move || plain() && (for_all() || for_trainee())>
                <p class="notice notice-caution">"▲ Without a passphrase the file holds names and health answers, and with everything contacts too, in plain text for whoever gets hold of it."</p>
            </When>
        </div>
        <p class="toolbar">
            <button type="button" class="button-primary" disabled=move || saving.busy() on:click=save>
                {move || if part("whole") && (for_all() || whoms.with(Vec::is_empty)) { "Save everything as one file" } else { "Save as a file" }}
            </button>
            {share_kind.map(|_| view! { <button type="button" disabled=move || saving.busy() on:click=share>"Share the file"</button> })}
            <button type="button" disabled=move || saving.busy() on:click=show>"Show as codes"</button>
            <button type="button" on:click=services>"Services as a spreadsheet (CSV)"</button>
        </p>
        <SavingLine saving=saving/>
        <When when=move || saving.busy()><p role="status">"Writing the file…"</p></When>
        {move || run.with(|texts| (!texts.is_empty()).then(|| view! { <CodeRun texts=texts.clone()/> }))}
    }
}
