//! Published rules as data: the limit at a frequency and how it follows.
