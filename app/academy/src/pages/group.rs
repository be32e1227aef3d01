//! The trainees of the academy, by name.

use leptos::prelude::*;
use practicum::person::Person;

use crate::components::{Page, When};
use crate::session::session;

/// All trainees by name; never by speed.
#[component]
pub(crate) fn GroupPage() -> impl IntoView {
    let session = session();
    let row = move |person: Person| {
        let standing = session.standing(&person.id);
        let plan = standing.as_ref().map(|standing| standing.plan.word()).unwrap_or_default();
        let advice = standing.as_ref().map(|standing| standing.advice.say()).unwrap_or_default();
        let last = standing
            .as_ref()
            .and_then(|standing| standing.gap.last.as_ref().map(|(_, day)| day.to_string()))
            .unwrap_or_else(|| "none yet".to_owned());
        let due = standing.as_ref().map(|standing| standing.gap.due.say()).unwrap_or_default();
        let left = person.left.map(|day| format!(" (left on {day})"));
        view! {
            <tr>
                <th scope="row"><a href=format!("#/progress/{}", person.id)>{person.name.clone()}</a>{left}</th>
                <td>{person.group.clone()}</td><td>{plan}</td><td>{advice}</td><td>{last}</td><td>{due}</td>
            </tr>
        }
    };
    view! {
        <Page title="Group">
            <When when=move || session.trainees().is_empty()>
                <p>"No trainee is enrolled yet. "<a href="#/people">"Enrol one"</a></p>
            </When>
            <div class="table-wrap" role="region" tabindex="0" aria-label="Trainees by name"><table>
                <caption>"Trainees by name"</caption>
                <thead><tr>
                    <th scope="col">"Trainee"</th><th scope="col">"Group"</th><th scope="col">"Present plan"</th>
                    <th scope="col">"Advice"</th><th scope="col">"Last live service"</th><th scope="col">"Due"</th>
                </tr></thead>
                <tbody>{move || session.trainees().into_iter().map(row).collect_view()}</tbody>
            </table></div>
        </Page>
    }
}
