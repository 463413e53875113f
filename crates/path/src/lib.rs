//! What lies between the transmitter and an instrument: loss and its uncertainty at a frequency.
