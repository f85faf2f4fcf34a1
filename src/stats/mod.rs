//! Robust centre and spread, steps: plain numbers in and out.
