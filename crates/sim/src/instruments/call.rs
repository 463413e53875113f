//! One command on its way to a device: its parameters, read against the device's bounds.

use spurline_clock::Moment;
use spurline_scpi::{Element, ErrorCode, Numeric, ProgramUnit, Quantity, Unit};

/// A command or query with its parameters.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Call<'a> {
    pub(crate) unit: &'a ProgramUnit,
    pub(crate) now: Moment,
}

/// What became of a command.
#[derive(Clone, Debug, PartialEq)]
pub(crate) enum Reply<C> {
    /// Carried out.
    Done,
    /// Carried out, but not quite as asked.
    Changed(ErrorCode),
    /// The answer to a query.
    Answer(Unit),
    /// Carried out; the answer is that of another query once nothing is pending any more.
    Later(C),
}

/// What a command gives: a reply, or the error that kept it from being carried out.
pub(crate) type Outcome<C> = Result<Reply<C>, ErrorCode>;

/// The values that a numeric setting can have.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Bounds {
    pub(crate) low: f64,
    pub(crate) high: f64,
    pub(crate) default: f64,
}

/// The values next to the present one.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Steps {
    pub(crate) down: f64,
    pub(crate) up: f64,
}

impl Steps {
    /// One `step` to either side of `value`.
    pub(crate) fn of(value: f64, step: f64) -> Self {
        Self { down: value - step, up: value + step }
    }
}

impl<C> Reply<C> {
    /// An answer of one number in plain decimal: no exponent, so that no digit is lost.
    pub(crate) fn number(value: f64) -> Self {
        Self::word(&(value + 0.0).to_string())
    }

    /// An answer of one mnemonic or other bare text.
    pub(crate) fn word(text: &str) -> Self {
        Self::Answer(Element::from_word(text).into())
    }

    /// An answer of one string in quotes.
    pub(crate) fn text(text: &str) -> Self {
        Self::Answer(Element::from_string(text).into())
    }

    /// An answer of `1` or `0`.
    pub(crate) fn flag(value: bool) -> Self {
        Self::Answer(Element::from_bool(value).into())
    }
}

impl Call<'_> {
    /// A numeric setting: asks for `current`, `MINimum`, `MAXimum` or `DEFault`, or sets a value. A value out of
    /// bounds is moved to the nearest bound and noted as -222.
    pub(crate) fn numeric<C>(
        &self,
        quantity: Quantity,
        bounds: Bounds,
        current: f64,
        set: impl FnOnce(f64),
    ) -> Outcome<C> {
        self.number(quantity, bounds, current, None, set)
    }

    /// The same, with the values that `DOWN` and `UP` lead to.
    pub(crate) fn stepped<C>(
        &self,
        quantity: Quantity,
        bounds: Bounds,
        current: f64,
        steps: Steps,
        set: impl FnOnce(f64),
    ) -> Outcome<C> {
        self.number(quantity, bounds, current, Some(steps), set)
    }

    /// A numeric setting that stays where it is when it is given a value out of bounds.
    pub(crate) fn strict<C>(
        &self,
        quantity: Quantity,
        bounds: Bounds,
        current: f64,
        set: impl FnOnce(f64),
    ) -> Outcome<C> {
        self.refusing(quantity, bounds, current, None, set)
    }

    /// The same, with the values that `DOWN` and `UP` lead to.
    pub(crate) fn strict_stepped<C>(
        &self,
        quantity: Quantity,
        bounds: Bounds,
        current: f64,
        steps: Steps,
        set: impl FnOnce(f64),
    ) -> Outcome<C> {
        self.refusing(quantity, bounds, current, Some(steps), set)
    }

    fn refusing<C>(
        &self,
        quantity: Quantity,
        bounds: Bounds,
        current: f64,
        steps: Option<Steps>,
        set: impl FnOnce(f64),
    ) -> Outcome<C> {
        let mut wanted = None;
        let reply = self.number(quantity, bounds, current, steps, |value| wanted = Some(value))?;
        match (reply, wanted) {
            (Reply::Changed(code), _) => Err(code),
            (reply, None) => Ok(reply),
            (reply, Some(value)) => {
                set(value);
                Ok(reply)
            }
        }
    }

    fn number<C>(
        &self,
        quantity: Quantity,
        bounds: Bounds,
        current: f64,
        steps: Option<Steps>,
        set: impl FnOnce(f64),
    ) -> Outcome<C> {
        if self.unit.query {
            return match self.unit.between(0, 1)?.first() {
                None => Ok(Reply::number(current)),
                Some(parameter) => bounds.named(parameter.numeric(quantity)?).map(Reply::number),
            };
        }
        let [parameter] = self.unit.exactly()?;
        let value = match (parameter.numeric(quantity)?, steps) {
            (Numeric::Value(value), _) => value,
            (Numeric::Down, Some(steps)) => steps.down,
            (Numeric::Up, Some(steps)) => steps.up,
            (word, _) => bounds.named(word)?,
        };
        let kept = value.clamp(bounds.low, bounds.high);
        set(kept);
        Ok(if kept == value { Reply::Done } else { Reply::Changed(ErrorCode::DATA_OUT_OF_RANGE) })
    }

    /// A setting that is on or off.
    pub(crate) fn flag<C>(&self, current: bool, set: impl FnOnce(bool)) -> Outcome<C> {
        if self.unit.query {
            let [] = self.unit.exactly()?;
            return Ok(Reply::flag(current));
        }
        let [parameter] = self.unit.exactly()?;
        set(parameter.boolean()?);
        Ok(Reply::Done)
    }

    /// A setting with a few named values; answers with the short form.
    pub(crate) fn choice<C, T: Copy + PartialEq>(
        &self,
        choices: &[(&str, T)],
        current: T,
        set: impl FnOnce(T),
    ) -> Outcome<C> {
        if self.unit.query {
            let [] = self.unit.exactly()?;
            let name = choices.iter().find(|(_, choice)| *choice == current).map_or("", |(name, _)| name);
            return Ok(Reply::word(spurline_scpi::short_form(name)));
        }
        let [parameter] = self.unit.exactly()?;
        set(parameter.choice(choices)?);
        Ok(Reply::Done)
    }

    /// A query without parameters.
    pub(crate) fn ask<C>(&self, answer: impl FnOnce() -> Outcome<C>) -> Outcome<C> {
        let [] = self.unit.exactly()?;
        answer()
    }

    /// A command without parameters.
    pub(crate) fn act<C>(&self, action: impl FnOnce() -> Result<(), ErrorCode>) -> Outcome<C> {
        let [] = self.unit.exactly()?;
        action().map(|()| Reply::Done)
    }
}

impl Bounds {
    /// The value that a word stands for.
    fn named(self, word: Numeric) -> Result<f64, ErrorCode> {
        match word {
            Numeric::Minimum => Ok(self.low),
            Numeric::Maximum => Ok(self.high),
            Numeric::Default => Ok(self.default),
            Numeric::Value(_) | Numeric::Up | Numeric::Down => Err(ErrorCode::ILLEGAL_PARAMETER_VALUE),
        }
    }
}
