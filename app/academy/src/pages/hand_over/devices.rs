//! The devices whose entries are here: how far, and what was seen of them by whom.

use leptos::prelude::*;
use practicum::moment::Moment;

use crate::components::{DataTable, When, text_rows};
use crate::session::{DeviceSeen, session};

fn day(moment: &Moment) -> String {
    moment.format("%Y-%m-%d").to_string()
}

fn row(device: &DeviceSeen) -> Vec<String> {
    let name = if device.here { format!("{} (this one)", device.label) } else { device.label.clone() };
    let last = device.last.as_ref().map_or_else(|| "none in a row".to_owned(), day);
    let seen = match &device.seen {
        Some((number, by, Some(at))) => format!("✓ up to entry {number}, by {by} on {}", day(at)),
        Some((number, by, None)) => format!("✓ up to entry {number}, by {by}"),
        None if device.here => "own entries".to_owned(),
        None => "○ not yet".to_owned(),
    };
    vec![name, device.up_to.to_string(), last, seen]
}

/// Says of a device what does not fit what was seen of it.
fn odd(device: &DeviceSeen) -> Vec<String> {
    let mut odd = Vec::new();
    if device.two_versions {
        odd.push(format!(
            "{}: two different logs of it were seen. Both are kept; somebody has copied or changed it.",
            device.label
        ));
    }
    if !device.put_in_after.is_empty() {
        odd.push(format!(
            "{}: put in after an instructor’s device had seen the log without it: {}. Kept, and not used where it needs \
             a signature that holds.",
            device.label,
            device.put_in_after.join("; ")
        ));
    }
    odd
}

/// The table, and what to heed in it.
#[component]
pub(super) fn Devices() -> impl IntoView {
    let session = session();
    let devices = RwSignal::new(Vec::<DeviceSeen>::new());
    // A large log takes a while to be gone through: what was known is shown meanwhile.
    Effect::new(move |_| {
        let _ = session.records();
        leptos::task::spawn_local(async move {
            let seen = session.devices_seen().await;
            devices.try_set(seen);
        });
    });
    let head = ["Device", "Entries in a row", "Last written", "Seen and signed"];
    let odds = Memo::new(move |_| devices.with(|devices| devices.iter().flat_map(odd).collect::<Vec<_>>()));
    view! {
        <h2>"Devices"</h2>
        <p>"When an unlocked instructor or the owner takes in a file, what was seen of each other device is signed: what turns up before that place afterwards was put in later, and shows here."</p>
        {move || {
            let rows = devices.with(|devices| devices.iter().map(row).collect());
            view! { <DataTable caption="Devices whose entries are here" head=head.map(str::to_owned).to_vec() rows=text_rows(rows)/> }
        }}
        <When when=move || odds.with(|odds| !odds.is_empty())>
            <ul class="notice notice-danger">{move || odds.get().into_iter().map(|line| view! { <li>"■ "{line}</li> }).collect_view()}</ul>
        </When>
    }
}
