"""Measurements that are too long, or too dependent on the machine, for every test run."""
