-- Readings without a limit: few, and counted by every list of runs, since a run with one never just complies.
CREATE INDEX reading_without_limit ON reading (run) WHERE outcome = 'no limit';
