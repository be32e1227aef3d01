//! The app in the browser: pages, components, charts.
//!
//! It shows what the log adds up to and writes facts into it. It computes no statistics and decides no
//! rule; [`browser`] alone touches web APIs.

#![allow(unreachable_pub, reason = "the component macro writes public property types in private modules")]

pub mod browser;
pub mod charts;
pub mod route;

pub mod components;

pub mod own_data;
pub mod review;

mod app;
mod demo;
mod pages;
mod session;
mod worker;

use leptos::prelude::*;
use wasm_bindgen::prelude::wasm_bindgen;

/// Starts the app on the page; in a worker, which has none, nothing is drawn.
#[wasm_bindgen(start)]
pub fn start() {
    browser::panic::install();
    if browser::has_page() {
        leptos::mount::mount_to_body(|| view! { <app::App/> });
    }
}
