//! What the person concerned says to marks, plan decisions and sign-offs: taken note of, disputed, answered. Every view
//! stays, on the screen and on paper.

use leptos::prelude::*;
use logbook::fact::{About, Fact, Reply, Resolution};
use logbook::records::{Recorded, Replied};
use practicum::ids::EntryId;

use super::form::{Field, LongInput, Saving, SavingLine};
use crate::components::When;
use crate::session::{Session, session};

/// One thing that was said, with its weight.
#[derive(Debug, Clone, PartialEq, Eq)]
struct Line {
    class: &'static str,
    words: String,
}

fn line(class: &'static str, words: String) -> Line {
    Line { class, words }
}

/// Says what was replied to an entry and what was answered, the first one first.
fn lines(session: Session, entry: &EntryId) -> Vec<Line> {
    let records = session.records();
    let Some(person) = records.concerned_by(entry) else { return Vec::new() };
    let name = session.person_name(&person);
    let now = records.hash_of_value(entry);
    let replies = records.replies_to(entry);
    if replies.is_empty() {
        return vec![line("small", format!("○ Not yet acknowledged by {name}."))];
    }
    let mut lines = Vec::new();
    for reply in replies {
        let day = reply.recorded_at.date_naive();
        let word = records.word(&reply.entry);
        let signed = if records.is_keyed() && !word.believed() { format!(" ({})", word.say()) } else { String::new() };
        lines.push(match &reply.value.disputed {
            None => line("small", format!("✓ Acknowledged by {name} on {day}{signed}.")),
            Some(why) => line("notice notice-caution", format!("▲ Disputed by {name} on {day}{signed}: {why}")),
        });
        if now.as_ref() != Some(&reply.value.about.hash) {
            lines.push(line("small", "▲ It was corrected after that.".to_owned()));
        }
        if let Some(answer) = records.resolution_of(&reply.entry) {
            let (by, day) = (session.person_name(&answer.author), answer.recorded_at.date_naive());
            lines.push(line("notice notice-info", format!("● Answered by {by} on {day}: {}", answer.value.words)));
        }
    }
    lines
}

/// What can still be said.
#[derive(Debug, Clone, PartialEq, Eq)]
enum Open {
    /// Nothing by whoever uses the device.
    Nothing,
    /// The person concerned may reply.
    Reply { about: About, acknowledged: bool },
    /// An instructor may answer the dispute.
    Answer { dispute: EntryId, person: practicum::ids::PersonId },
}

fn open(session: Session, entry: &EntryId) -> Open {
    let records = session.records();
    let Some(who) = session.who().map(|who| who.id) else { return Open::Nothing };
    let Some(person) = records.concerned_by(entry) else { return Open::Nothing };
    let replied = records.replied_to(entry);
    if who == person {
        let Some(hash) = records.hash_of_value(entry) else { return Open::Nothing };
        let of_this = |reply: &Recorded<Reply>| reply.value.about.hash == hash;
        let acknowledged = match &replied {
            Replied::NotYet => false,
            Replied::Acknowledged(reply) => of_this(reply),
            Replied::Disputed(_) | Replied::Resolved(..) => false,
        };
        return Open::Reply { about: About { entry: entry.clone(), hash, person }, acknowledged };
    }
    match replied {
        Replied::Disputed(dispute) if session.may_assess() && records.said_by(entry).as_ref() != Some(&who) => {
            Open::Answer { dispute: dispute.entry.clone(), person }
        }
        _ => Open::Nothing,
    }
}

/// All that was replied to an entry, and what may be said now.
#[component]
pub(crate) fn Replies(
    /// The marks, plan decision or sign-off.
    entry: EntryId,
) -> impl IntoView {
    let session = session();
    let ids = StoredValue::new(entry);
    let said = Memo::new(move |_| ids.with_value(|entry| lines(session, entry)));
    let open = Memo::new(move |_| ids.with_value(|entry| open(session, entry)));
    let saving = Saving::new();
    view! {
        {move || said.get().into_iter().map(|line| view! { <p class=line.class>{line.words}</p> }).collect_view()}
        {move || match open.get() {
            Open::Nothing => ().into_any(),
            Open::Reply { about, acknowledged } => {
                view! { <ReplyForm about=about acknowledged=acknowledged saving=saving/> }.into_any()
            }
            Open::Answer { dispute, person } => {
                view! { <AnswerForm dispute=dispute person=person saving=saving/> }.into_any()
            }
        }}
        <SavingLine saving=saving/>
    }
}

/// Acknowledging, or disputing with a reason.
#[component]
fn ReplyForm(
    /// About what.
    about: About,
    /// This was acknowledged as it stands.
    acknowledged: bool,
    /// The saving.
    saving: Saving,
) -> impl IntoView {
    let session = session();
    let why = Field::empty();
    let input = format!("dispute-{}", about.entry);
    let abouts = StoredValue::new(about);
    let acknowledge = move |_| {
        let fact = Fact::Replied(Reply { about: abouts.get_value(), disputed: None });
        saving.write(session, vec![fact], "Noted that you have read this.".to_owned(), || {});
    };
    let dispute = move |_| {
        let read = why.read(|typed| match typed {
            "" => Err("Say what you do not agree with.".to_owned()),
            typed => Ok(typed.to_owned()),
        });
        let Some(reason) = read else { return };
        let fact = Fact::Replied(Reply { about: abouts.get_value(), disputed: Some(reason) });
        let done = "Your view is kept beside this one. An instructor who did not write it will answer.".to_owned();
        saving.write(session, vec![fact], done, move || why.clear());
    };
    view! {
        <When when=move || !acknowledged>
            <p class="toolbar"><button type="button" disabled=move || saving.busy() on:click=acknowledge>
                "Acknowledge: I have read this"
            </button></p>
        </When>
        <details class="form-part">
            <summary>"I do not agree"</summary>
            <LongInput label="What you do not agree with, and why" id=input.clone() field=why/>
            <button type="button" disabled=move || saving.busy() on:click=dispute>"Dispute this"</button>
        </details>
    }
}

/// Answering a dispute, by an instructor who did not write what is disputed.
#[component]
fn AnswerForm(
    /// The dispute.
    dispute: EntryId,
    /// Whose it is.
    person: practicum::ids::PersonId,
    /// The saving.
    saving: Saving,
) -> impl IntoView {
    let session = session();
    let words = Field::empty();
    let input = format!("answer-{dispute}");
    let answer = move |_| {
        let read = words.read(|typed| match typed {
            "" => Err("Say how it was resolved.".to_owned()),
            typed => Ok(typed.to_owned()),
        });
        let Some(words) = read else { return };
        let fact = Fact::Resolved(Resolution { dispute: dispute.clone(), person: person.clone(), words });
        saving.write(session, vec![fact], "The answer is kept beside both views.".to_owned(), || {});
    };
    view! {
        <details class="form-part">
            <summary>"Answer this dispute"</summary>
            <p class="small">"Nothing that was said goes. Marks of your own, as a second opinion, are a separate step: “Mark this service”."</p>
            <LongInput label="How it was resolved" id=input.clone() field=words/>
            <button type="button" disabled=move || saving.busy() on:click=answer>"Keep the answer"</button>
        </details>
    }
}
