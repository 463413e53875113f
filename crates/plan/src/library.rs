//! Where the texts come from that a plan names.

/// A text and the name under which it was found.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Text {
    /// The name, as a path or as `built in: NAME`.
    pub name: String,
    /// The text.
    pub text: String,
}

/// Why a text is not there.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct NotFound {
    /// What was looked for and where.
    pub message: String,
    /// What to do about it.
    pub advice: Option<String>,
}

/// Hands out texts. `beside` is the name of the file that asks: relative names start from its folder.
pub trait Library {
    /// A file by its path.
    ///
    /// # Errors
    ///
    /// If it cannot be read.
    fn file(&self, beside: &str, path: &str) -> Result<Text, NotFound>;

    /// An instrument profile by its name.
    ///
    /// # Errors
    ///
    /// If there is none of that name.
    fn profile(&self, beside: &str, name: &str) -> Result<Text, NotFound>;

    /// A rule by its name.
    ///
    /// # Errors
    ///
    /// If there is none of that name.
    fn rule(&self, beside: &str, name: &str) -> Result<Text, NotFound>;

    /// A table of bands by its name.
    ///
    /// # Errors
    ///
    /// If there is none of that name.
    fn band_plan(&self, beside: &str, name: &str) -> Result<Text, NotFound>;
}
