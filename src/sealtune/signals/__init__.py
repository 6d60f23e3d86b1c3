"""Sweeps, transfer functions, hum: arrays in, arrays out; knows no box."""
