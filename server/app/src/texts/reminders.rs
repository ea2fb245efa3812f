//! Texts that nobody asked for: only to numbers that agreed, never at night.
