//! The course book in force: readable, exported to be edited, imported with a list of all problems.

mod handout;

use std::sync::Arc;

use leptos::prelude::*;
use logbook::Fact;
use practicum::course_book::text::{self, Problem};
use practicum::course_book::{CourseBook, Measure, Target, example};
use practicum::moment::format_seconds;

use crate::browser;
use crate::components::Page;
use crate::session::{Session, session};

/// Largest file read, in bytes.
const CAP: u64 = 2 * 1024 * 1024;
/// Identifier of the file input.
const INPUT: &str = "course-book-file";

/// The course book.
#[component]
pub(crate) fn CourseBookPage() -> impl IntoView {
    let session = session();
    view! {
        <Page title="Course book">
            {move || session.book().map(|book| view! { <Shown book=book/> })}
            <Exchange/>
        </Page>
    }
}

fn target_words(target: &Target) -> String {
    let per = if target.per_eye { "per eye" } else { "both eyes" };
    let of = match target.measure {
        Measure::HandsOn => "hands-on",
        Measure::ServiceTime => "service time",
    };
    format!("{} {per}, {of}", format_seconds(target.seconds))
}

/// What stands in it.
#[component]
fn Shown(
    /// The book.
    book: Arc<CourseBook>,
) -> impl IntoView {
    let stage =
        |id: &practicum::ids::StageId| book.stage(id).map_or_else(|| id.to_string(), |stage| stage.label.clone());
    let plans = book.plans.iter().map(|plan| {
        let targets = plan
            .stage_targets
            .iter()
            .map(|(id, target)| view! { <li>{format!("{}: {}", stage(id), target_words(target))}</li> });
        view! {
            <details>
                <summary>{format!("{}: service within {}", plan.label, target_words(&plan.service_target))}</summary>
                <ul>{targets.collect_view()}</ul>
            </details>
        }
    });
    let plans = plans.collect_view();
    let criteria = book.criteria.iter().map(|criterion| {
        let kind = match (criterion.safety_critical, criterion.core) {
            (true, _) => "■ safety-critical",
            (_, true) => "◆ core",
            _ => "",
        };
        let [a, b, c, d] = criterion.descriptors.clone();
        view! { <tr><th scope="row">{criterion.label.clone()}<br/>{kind}</th><td>{a}</td><td>{b}</td><td>{c}</td><td>{d}</td></tr> }
    });
    let criteria = criteria.collect_view();
    let faults = book.faults.iter().map(|fault| {
        view! { <tr><th scope="row">{fault.label.clone()}</th><td>{fault.causes.join("; ")}</td><td>{fault.coaching.clone()}</td></tr> }
    });
    let faults = faults.collect_view();
    let dwell = book.dwell_examples.iter().map(|example| {
        let tint = if example.with_tint { ", tint mixed in" } else { "" };
        view! {
            <tr><th scope="row">{format!("{}, {} lashes{tint}", example.product.word(), example.condition.word())}</th>
            <td>{format_seconds(example.planned)}</td>
            <td>{format!("{} to {}", format_seconds(example.minimum), format_seconds(example.maximum))}</td>
            <td>{example.source.clone()}</td></tr>
        }
    });
    let dwell = dwell.collect_view();
    let sources =
        book.sources.iter().map(|(part, source)| view! { <li>{format!("{part}: {source}")}</li> }).collect_view();
    let handouts =
        book.handouts.iter().map(|(name, words)| view! { <handout::Handout name=name.clone() text=words.clone()/> });
    let handouts = handouts.collect_view();
    let table = |caption: &'static str, head: &[&'static str], rows: AnyView| {
        let head = head.iter().map(|word| view! { <th scope="col">{*word}</th> }).collect_view();
        view! { <div class="table-wrap" tabindex="0"><table><caption>{caption}</caption><thead><tr>{head}</tr></thead><tbody>{rows}</tbody></table></div> }
    };
    view! {
        <p class="lead">{format!("{}, edition {}", book.title, book.edition)}</p>
        <h2>"Section plans and targets"</h2>{plans}
        <h2>"Rubric"</h2>
        {table("Outcome criteria with their levels", &["Criterion", "Not yet", "Nearly", "Meets", "Strong"], criteria.into_any())}
        <h2>"Faults"</h2>
        {table("Faults, likely causes, one coaching line", &["Fault", "Likely causes", "Coaching"], faults.into_any())}
        <h2>"Examples of dwell"</h2>
        {table("Examples only: each product's label comes first", &["For", "Planned", "Window", "Source"], dwell.into_any())}
        <h2>"Handouts"</h2>{handouts}
        <h2>"Where figures come from"</h2><ul>{sources}</ul>
    }
}

/// Export and import.
#[component]
fn Exchange() -> impl IntoView {
    let session = session();
    let problems = RwSignal::new(Vec::<String>::new());
    let said = RwSignal::new(None::<String>);
    let export = move |_| {
        let records = session.records();
        let text = records.books().last().map_or_else(|| text::join(&example::files()), |book| book.text.clone());
        browser::file::download("course-book.txt", "text/plain;charset=utf-8", &text);
    };
    let import = move |_| {
        leptos::task::spawn_local(async move {
            said.set(None);
            match adopt(session).await {
                Ok(words) => {
                    problems.set(Vec::new());
                    said.set(Some(words));
                }
                Err(list) => problems.set(list),
            }
        });
    };
    view! {
        <h2>"Edit it"</h2>
        <p>"Save it as one text file, edit it, bring it in again with a new edition. Records keep the edition they were made under."</p>
        <p class="toolbar"><button type="button" on:click=export>"Save the course book as a text file"</button></p>
        <label class="field"><span>"Edited course book"</span><input type="file" id=INPUT accept=".txt,text/plain"/></label>
        <button type="button" on:click=import>"Check and adopt"</button>
        <div role="alert">
            {move || said.get().map(|words| view! { <p class="notice notice-info">{words}</p> })}
            {move || (!problems.get().is_empty()).then(|| view! {
                <p class="notice notice-danger">"■ Not adopted. All problems:"</p>
                <ul>{problems.get().into_iter().map(|line| view! { <li>{line}</li> }).collect_view()}</ul>
            })}
        </div>
    }
}

async fn adopt(session: Session) -> Result<String, Vec<String>> {
    let say = |problems: Vec<Problem>| problems.iter().map(ToString::to_string).collect::<Vec<_>>();
    if !session.is_owner() {
        return Err(vec!["The owner adopts a course book: switch at the top and unlock.".to_owned()]);
    }
    let file = browser::file::read_chosen(INPUT, CAP).await.map_err(|error| vec![error.to_string()])?;
    let whole = file.text().map_err(|error| vec![error.to_string()])?;
    let files = text::split(whole).map_err(say)?;
    let borrowed: Vec<(&str, &str)> = files.iter().map(|(name, text)| (name.as_str(), text.as_str())).collect();
    let book = text::read(&borrowed).map_err(say)?;
    let words = format!("✓ Adopted: {}, edition {}.", book.title, book.edition);
    session
        .write(vec![Fact::BookAdopted { id: book.id, text: whole.to_owned() }])
        .await
        .map_err(|sentence| vec![sentence])?;
    Ok(words)
}
