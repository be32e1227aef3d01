//! This device: its name in the log, its sound, its last backup.

use chrono::Duration;
use leptos::prelude::*;
use logbook::fact::Fact;
use practicum::moment::Moment;

use crate::browser;
use crate::browser::alarm::Side;
use crate::pages::form::{Field, OnceUnlocked, Saving, SavingLine, TextInput, name};
use crate::session::{BACKUP_DAYS, Session, reading, session};

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

/// On the first page: that a backup is overdue, and what the browser says of keeping the records.
#[component]
pub(crate) fn BackupReminder() -> impl IntoView {
    let session = session();
    let overdue = Memo::new(move |_| session.backup_overdue());
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

    use super::backup_in_words;

    #[test]
    fn a_backup_is_due_after_a_week() {
        let moment = |text| parse_moment(text).unwrap();
        let now = moment("2026-03-29T12:00:00+01:00");
        assert!(backup_in_words(None, &now).starts_with('▲'));
        assert!(backup_in_words(Some(moment("2026-03-22T12:00:00+01:00")), &now).starts_with('✓'));
        assert!(backup_in_words(Some(moment("2026-03-22T11:59:59+01:00")), &now).starts_with('▲'));
    }
}
