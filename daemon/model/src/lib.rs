//! Model.
