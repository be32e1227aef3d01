//! This device: its name in the log, its sound, its last backup.

use chrono::Duration;
use leptos::prelude::*;
use logbook::fact::Fact;
use practicum::moment::Moment;

use crate::browser;
use crate::browser::alarm::Side;
use crate::pages::form::{Field, OnceUnlocked, Saving, SavingLine, TextInput, name};
use crate::session::{Session, reading, session};

/// Days after which a backup is due again: proposal, no source.
const BACKUP_DAYS: i64 = 7;

/// Says when the last backup was made, and whether one is due; `None` for a last one that is not known.
fn backup_in_words(last: Option<Moment>, now: &Moment) -> String {
    let Some(last) = last else {
        return "▲ No backup was saved from this device yet. Save one, and keep it elsewhere.".to_owned();
    };
    let day = last.format("%Y-%m-%d");
    if now.signed_duration_since(last) > Duration::days(BACKUP_DAYS) {
        format!("▲ The last backup is of {day}, more than {BACKUP_DAYS} days ago: a new one is due.")
    } else {
        format!("✓ The last backup is of {day}.")
    }
}

/// Says on the first page that a backup is overdue; `None` while it is not.
///
/// A device that never saved one has a day from its first entry on (proposal, no source).
fn overdue_in_words(last: Option<Moment>, first: Option<Moment>, newer: usize, now: &Moment) -> Option<String> {
    let (newer, here) = match newer {
        0 => return None,
        1 => ("1 entry is newer".to_owned(), "1 entry stands here only".to_owned()),
        newer => (format!("{newer} entries are newer"), format!("{newer} entries stand here only")),
    };
    match (last, first) {
        (Some(last), _) if now.signed_duration_since(last) > Duration::days(BACKUP_DAYS) => Some(format!(
            "The last backup is of {}, more than {BACKUP_DAYS} days ago; {newer}.",
            last.format("%Y-%m-%d")
        )),
        (None, Some(first)) if now.signed_duration_since(first) > Duration::days(1) => {
            Some(format!("No backup was saved from this device yet: {here}."))
        }
        _ => None,
    }
}

/// On the first page: that a backup is overdue, and what the browser says of keeping the records.
#[component]
pub(crate) fn BackupReminder() -> impl IntoView {
    let session = session();
    let overdue = Memo::new(move |_| {
        let last = session.last_backup();
        let first = session.first_entry();
        (!session.demo()).then(|| overdue_in_words(last, first, session.entries_since(last), &reading().at)).flatten()
    });
    let unkept = move || !session.demo() && session.keeps() == Some(false);
    move || {
        (overdue.with(Option::is_some) || unkept()).then(|| view! {
            <div class="notice notice-caution">
                {move || overdue.get().map(|words| view! { <p>"▲ "{words}" "<a href="#/hand-over">"Save a backup"</a></p> })}
                {move || unkept().then(|| view! {
                    <p>"▲ The browser was asked to keep the records and did not promise it: it may clear them when room is short. Put the app on the home screen, use it often, and save backups."</p>
                })}
            </div>
        })
    }
}

/// The last backup, and the way to the next unless this is where it is saved.
#[component]
pub(crate) fn BackupLine(
    /// What stands behind the words.
    #[prop(optional)]
    children: Option<Children>,
) -> impl IntoView {
    let session = session();
    let words = move || backup_in_words(session.last_backup(), &reading().at);
    view! { <p>{words}" "{children.map(|children| children())}</p> }
}

/// Plays the alarm of each side.
#[component]
pub(super) fn SoundCheck() -> impl IntoView {
    let problem = RwSignal::new(None::<&'static str>);
    let play = move |side: Side, words: &'static str| {
        leptos::task::spawn_local(async move {
            if browser::alarm::unlock().await {
                browser::alarm::beep(side);
                browser::alarm::speak(words);
                problem.try_set(None);
            } else {
                problem.try_set(Some("▲ This browser plays no sound now: look at the volume and the silent switch."));
            }
        });
    };
    view! {
        <section>
            <h2>"Sound"</h2>
            <p>"Left and right alarm differ. Each service asks for a sound check of its own as well."</p>
            <button type="button" on:click=move |_| play(Side::Left, "Left eye")>"Play left"</button>" "
            <button type="button" on:click=move |_| play(Side::Right, "Right eye")>"Play right"</button>
            <p role="status">{move || problem.get()}</p>
        </section>
    }
}

/// What people call this device.
#[component]
pub(super) fn DevicePart() -> impl IntoView {
    let short: String = session().device().as_str().chars().take(8).collect();
    view! {
        <section>
            <h2>"This device"</h2>
            <p class="small">"It writes its entries as "<code>{short}</code>"…"</p>
            <OnceUnlocked fallback=|| view! { <NameInWords/> }>
                <NameForm/>
            </OnceUnlocked>
        </section>
    }
}

fn saved_name(session: Session) -> Option<String> {
    let device = session.device();
    session.records().devices().iter().find(|known| known.value.id == device).map(|known| known.value.label.clone())
}

/// The name that is saved.
#[component]
fn NameInWords() -> impl IntoView {
    let session = session();
    let words = move || match saved_name(session) {
        Some(name) => format!("It is called “{name}”."),
        None => "It has no name yet.".to_owned(),
    };
    view! { <p>{words}" An instructor or the owner names the device, unlocked."</p> }
}

/// Names this device.
#[component]
fn NameForm() -> impl IntoView {
    let session = session();
    let label = Field::of(untrack(|| saved_name(session)).unwrap_or_default());
    let saving = Saving::new();
    let submit = move |event: leptos::ev::SubmitEvent| {
        event.prevent_default();
        let Some(label) = label.read(|typed| name("what people call this device", typed)) else { return };
        let fact = Fact::DeviceAdmitted { device: session.device(), label };
        saving.write(session, vec![fact], "The device’s name is saved.".to_owned(), || {});
    };
    view! {
        <form novalidate on:submit=submit>
            <TextInput label="Name of this device" id="device-name" field=label hint="For example: phone at couch 2"/>
            <button type="submit" disabled=move || saving.busy()>"Save name"</button>
            <SavingLine saving=saving/>
        </form>
    }
}

#[cfg(test)]
mod tests {
    use practicum::moment::parse_moment;

    use super::{backup_in_words, overdue_in_words};

    #[test]
    fn the_first_page_asks_for_a_backup_when_one_is_overdue() {
        let moment = |text| parse_moment(text).unwrap();
        let now = moment("2026-03-29T12:00:00+01:00");
        let day = |text| Some(moment(text));
        assert_eq!(overdue_in_words(day("2026-03-23T12:00:00+01:00"), day("2026-01-01T12:00:00+01:00"), 5, &now), None);
        assert_eq!(overdue_in_words(day("2026-03-01T12:00:00+01:00"), day("2026-01-01T12:00:00+01:00"), 0, &now), None);
        let said = overdue_in_words(day("2026-03-01T12:00:00+01:00"), day("2026-01-01T12:00:00+01:00"), 37, &now);
        assert_eq!(said.unwrap(), "The last backup is of 2026-03-01, more than 7 days ago; 37 entries are newer.");
        assert_eq!(overdue_in_words(None, day("2026-03-29T10:00:00+01:00"), 4, &now), None);
        let said = overdue_in_words(None, day("2026-03-28T10:00:00+01:00"), 1, &now);
        assert_eq!(said.unwrap(), "No backup was saved from this device yet: 1 entry stands here only.");
    }

    #[test]
    fn a_backup_is_due_after_a_week() {
        let moment = |text| parse_moment(text).unwrap();
        let now = moment("2026-03-29T12:00:00+01:00");
        assert!(backup_in_words(None, &now).starts_with('▲'));
        assert!(backup_in_words(Some(moment("2026-03-22T12:00:00+01:00")), &now).starts_with('✓'));
        assert!(backup_in_words(Some(moment("2026-03-22T11:59:59+01:00")), &now).starts_with('▲'));
    }
}
