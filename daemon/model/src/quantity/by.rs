//! Something for each quantity, measured and derived.

use std::fmt;
use std::marker::PhantomData;
use std::ops::{Index, IndexMut};

use serde::de::{SeqAccess, Visitor};
use serde::{Deserialize, Deserializer, Serialize, Serializer};

use super::Variable;

/// A value for each [`Variable`]. It is written as the list of those that differ from the default: what was written before a quantity was
/// known is read as it was, with the default for the new one.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ByVariable<T>([T; Variable::COUNT]);

impl<T: Default> Default for ByVariable<T> {
    fn default() -> Self {
        Self(std::array::from_fn(|_| T::default()))
    }
}

impl<T, V: Into<Variable>> Index<V> for ByVariable<T> {
    type Output = T;

    fn index(&self, of: V) -> &T {
        &self.0[of.into().place()]
    }
}

impl<T, V: Into<Variable>> IndexMut<V> for ByVariable<T> {
    fn index_mut(&mut self, of: V) -> &mut T {
        &mut self.0[of.into().place()]
    }
}

impl<T> ByVariable<T> {
    /// All of them, in the order in which they are shown.
    pub fn iter(&self) -> impl Iterator<Item = (Variable, &T)> {
        Variable::ALL.into_iter().map(|variable| (variable, &self[variable]))
    }
}

impl<T: Default + PartialEq + Serialize> Serialize for ByVariable<T> {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let nothing = T::default();
        let kept: Vec<(Variable, &T)> = self.iter().filter(|(_, value)| **value != nothing).collect();
        serializer.collect_seq(kept)
    }
}

impl<'de, T: Default + Deserialize<'de>> Deserialize<'de> for ByVariable<T> {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        deserializer.deserialize_seq(Pairs(PhantomData))
    }
}

struct Pairs<T>(PhantomData<T>);

impl<'de, T: Default + Deserialize<'de>> Visitor<'de> for Pairs<T> {
    type Value = ByVariable<T>;

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("a list of quantities with their values")
    }

    fn visit_seq<A: SeqAccess<'de>>(self, mut pairs: A) -> Result<Self::Value, A::Error> {
        let mut all = ByVariable::default();
        while let Some((variable, value)) = pairs.next_element::<(Variable, T)>()? {
            all[variable] = value;
        }
        Ok(all)
    }
}
