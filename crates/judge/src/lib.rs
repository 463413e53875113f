//! Uncertainty budgets and decision rules: pure functions.
