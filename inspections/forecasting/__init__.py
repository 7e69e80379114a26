"""When to come back, computed: numbers and dates in, the same out; today is an argument."""
