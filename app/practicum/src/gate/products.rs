//! The products' part of the gate: chosen, with lot, label maximum and window; tint allowed.

use super::{GateInput, InUse, OnProduct, Reason};
use crate::couch::Tint;
use crate::eye::Eye;
use crate::order::InOrder;
use crate::product::ProductKind;

/// Whether a product of this kind touches the practice model's lashes with the tint chosen.
pub(super) fn is_used(kind: ProductKind, tint: Tint) -> bool {
    match kind {
        ProductKind::Lift | ProductKind::Setting => true,
        ProductKind::Tint => tint != Tint::None,
        ProductKind::Adhesive => false,
    }
}

pub(super) fn look_at(input: &GateInput, reasons: &mut Vec<Reason>) {
    let used = || input.products.iter().filter(|in_use| is_used(in_use.product.kind, input.tint));
    for kind in [ProductKind::Lift, ProductKind::Setting, ProductKind::Tint] {
        if is_used(kind, input.tint) && !used().any(|in_use| in_use.product.kind == kind) {
            reasons.push(Reason::NoProduct(kind));
        }
    }
    if input.tint != Tint::None && !input.academy.tint_allowed {
        reasons.push(Reason::TintOff { note: input.academy.region.map(|region| region.tint_note.clone()) });
    }
    if !input.demo {
        reasons
            .extend(Eye::BOTH.into_iter().filter(|eye| input.conditions.get(*eye).is_none()).map(Reason::NoAnalysis));
    }
    let recalled = input.products.iter().filter(|in_use| in_use.recalled);
    reasons.extend(recalled.map(OnProduct::of).map(Reason::LotRecalled));
    for in_use in used() {
        let on = OnProduct::of(in_use);
        if in_use.lot.number.trim().is_empty() || in_use.lot.product != in_use.product.id {
            reasons.push(Reason::NoLot(on.clone()));
        }
        if in_use.product.kind == ProductKind::Setting && input.tint == Tint::Mixed && !in_use.product.may_carry_tint {
            reasons.push(Reason::MixingNotPermitted(on.clone()));
        }
        if !input.demo {
            dwell(input, in_use, &on, reasons);
        }
    }
}

/// Looks at the label maximum, and at the window for each eye's lashes where the product has a dwell.
fn dwell(input: &GateInput, in_use: &InUse, on: &OnProduct, reasons: &mut Vec<Reason>) {
    let label = in_use.product.label_maximum.filter(|seconds| *seconds > 0);
    if label.is_none() {
        reasons.push(Reason::NoLabelMaximum(on.clone()));
    }
    if in_use.product.kind == ProductKind::Tint && input.tint == Tint::Mixed {
        return; // its dwell is the setting lotion's
    }
    let mut conditions: Vec<_> = [input.conditions.left, input.conditions.right].into_iter().flatten().collect();
    conditions.order_by(Ord::cmp);
    conditions.dedup();
    for condition in conditions {
        let window = in_use.product.window(condition);
        let on = on.clone();
        let planned = window.planned.filter(|seconds| *seconds > 0);
        match (planned, window.minimum, window.maximum) {
            (None, _, _) => reasons.push(Reason::NoPlannedDwell(on, condition)),
            (Some(planned), _, _) if label.is_some_and(|label| planned > label) => {
                reasons.push(Reason::PlannedBeyondLabel(on, condition));
            }
            (_, None, _) | (_, _, None) => reasons.push(Reason::WindowIncomplete(on, condition)),
            (Some(planned), Some(minimum), Some(maximum)) if minimum > planned || planned > maximum => {
                reasons.push(Reason::WindowContradicts(on, condition));
            }
            _ => {}
        }
    }
}
