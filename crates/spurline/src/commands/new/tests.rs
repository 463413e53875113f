//! Whatever answers are taken, the file that comes of them is accepted; whatever is wrong is asked for again.
