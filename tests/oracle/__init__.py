"""A slow, plain second implementation of the programme's rules, to compare the rules engine with."""
