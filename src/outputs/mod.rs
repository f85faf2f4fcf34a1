//! One file an output. They see the audit and its data types, never the checks.
