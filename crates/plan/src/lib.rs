//! Plan and bench files: model, validation, schedule, power budget.
