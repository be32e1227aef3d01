//! Putting a list in order, and gathering one into a map, by code that is compiled once for all kinds of items.
//!
//! The standard library's sort is compiled anew for each kind of item and each way of comparing, some
//! 4 kB a time in the browser's program. The lists here are short (services of a trainee, people of an
//! academy), so that a sort of their places and one move each is as good.

use std::cmp::Ordering;
use std::collections::{BTreeMap, BTreeSet};

/// Puts a list in order; equal items keep their places relative to each other.
pub trait InOrder<T> {
    /// Puts the list in the order that `compare` gives.
    fn order_by(&mut self, compare: impl Fn(&T, &T) -> Ordering);

    /// Puts the list in the order of the items' keys.
    fn order_by_key<K: Ord>(&mut self, key: impl Fn(&T) -> K) {
        self.order_by(|a, b| key(a).cmp(&key(b)));
    }
}

impl<T> InOrder<T> for Vec<T> {
    fn order_by(&mut self, compare: impl Fn(&T, &T) -> Ordering) {
        let places = places(self.len(), &|a, b| match (self.get(a), self.get(b)) {
            (Some(a), Some(b)) => compare(a, b),
            _ => Ordering::Equal,
        });
        let mut items: Vec<Option<T>> = self.drain(..).map(Some).collect();
        self.extend(places.into_iter().filter_map(|place| items.get_mut(place)?.take()));
    }
}

/// Places `0..count` in the order that `compare` gives for two of them.
fn places(count: usize, compare: &dyn Fn(usize, usize) -> Ordering) -> Vec<usize> {
    let mut places: Vec<usize> = (0..count).collect();
    places.sort_by(|a, b| compare(*a, *b));
    places
}

/// Gathers pairs into a map; of two with one key the later stays.
pub fn map_of<K: Ord, V>(pairs: impl IntoIterator<Item = (K, V)>) -> BTreeMap<K, V> {
    let mut map = BTreeMap::new();
    map.extend(pairs);
    map
}

/// Gathers items into a set.
pub fn set_of<T: Ord>(items: impl IntoIterator<Item = T>) -> BTreeSet<T> {
    let mut set = BTreeSet::new();
    set.extend(items);
    set
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_list_comes_out_as_the_standard_sort_puts_it() {
        for list in [vec![], vec![("b", 1)], vec![("b", 1), ("a", 2), ("b", 0), ("a", 1), ("c", 9), ("a", 2)]] {
            let (mut ours, mut theirs) = (list.clone(), list);
            ours.order_by_key(|item| item.0);
            theirs.sort_by_key(|item| item.0);
            assert_eq!(ours, theirs, "equal keys keep their places");
            ours.order_by(|a, b| b.cmp(a));
            theirs.sort_by(|a, b| b.cmp(a));
            assert_eq!(ours, theirs);
        }
    }

    #[test]
    fn of_two_pairs_with_one_key_the_later_stays() {
        assert_eq!(map_of([(1, 'a'), (0, 'b'), (1, 'c')]), BTreeMap::from([(0, 'b'), (1, 'c')]));
        assert_eq!(set_of([2, 1, 2]), BTreeSet::from([1, 2]));
    }
}
