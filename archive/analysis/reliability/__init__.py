"""Reliability: do observers see the same, and may their data be deposited?"""
