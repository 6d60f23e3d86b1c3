"""The jobs in words: check a cabinet, write its report, make virtual recordings."""
