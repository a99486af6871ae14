"""The car, the plan and the reasons: pure functions of values. Enter at `engine.adviser`."""
