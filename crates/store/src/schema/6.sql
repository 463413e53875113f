-- Where runs went on: rare among the events of a run, and asked for by every list of runs.
CREATE INDEX event_resumed ON event (run) WHERE kind = 'resumed';
