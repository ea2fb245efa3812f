//! Placeholder root.
