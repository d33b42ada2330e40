"""What the planner enters: forms that turn days and halves into half-days."""
