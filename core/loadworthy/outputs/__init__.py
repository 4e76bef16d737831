"""Showing a register: text for people, plain data for programs, derivations for whoever asks why."""
