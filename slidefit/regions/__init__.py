"""Regional defaults: an outlook as a file that a person reads, edits and hands on."""
