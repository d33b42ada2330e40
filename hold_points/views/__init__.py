"""The screens of hold points. Every one gets its objects through `coordination.people.access`."""
