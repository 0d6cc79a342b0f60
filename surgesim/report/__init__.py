"""Findings turned into text, tables and figures for people.

Everything here is composed from one findings object (schema ``surgesim.findings/1``, a plain
dict, SI units): no other source of numbers. ``numbers`` and ``sentences`` give plain strings;
``comparison``, ``tables`` and ``model_tables`` give rich renderables, printed through
``console``; ``figures`` gives matplotlib figures. The heavy libraries load with those modules,
not with this package.
"""
