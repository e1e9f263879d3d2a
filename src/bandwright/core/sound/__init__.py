"""Sound: what a link does to it, from the microphone to whatever comes behind the receiver."""
