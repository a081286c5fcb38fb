"""What is computed: plain values in, plain values out; no database, clock, file or print."""
