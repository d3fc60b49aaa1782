"""Approvals as sets of limits, and the permissions that a project needs."""
