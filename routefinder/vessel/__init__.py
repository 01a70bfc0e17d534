"""What is really in the vessel: the stages of a step and the streams between them.

The only room that reckons contents; volumes, heat, labels, leavings, checkpoints and weights are
read off its streams.
"""
