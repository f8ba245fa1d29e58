PRAGMA application_id = 1400332665;
PRAGMA user_version = 2;
BEGIN TRANSACTION;
CREATE TABLE closings (
        job TEXT PRIMARY KEY REFERENCES jobs (id),
        at TEXT NOT NULL
    ) STRICT;
INSERT INTO "closings" VALUES('old-2','2031-05-04T10:00:00Z');
CREATE TABLE events (
        position INTEGER PRIMARY KEY,
        job TEXT NOT NULL REFERENCES jobs (id),
        number INTEGER NOT NULL,
        body TEXT NOT NULL,
        crc INTEGER NOT NULL,
        UNIQUE (job, number)
    ) STRICT;
INSERT INTO "events" VALUES(1,'old-1',1,'{"kind":"started","at":"2031-05-04T08:00:00Z","job":"old-1","profile":{"name":"drill press","scale":{"system":"thou","reach":30,"step":"0.5"},"sweep_diameter":{"mm":"254.0"},"tolerance":{"mm":"0.1016"},"pivot_offset":{"mm":"0.0"},"span":null,"stock":["1.5","2","3","4","5","6","7","8","9","10","12","15","20","25"],"max_leaves":3,"method":"indicator","reading_sd":"0.5","relock_sd":"0.5"}}',2959565401);
INSERT INTO "events" VALUES(2,'old-1',2,'{"kind":"key_pressed","at":"2031-05-04T08:00:09Z","turn":1,"key":"enter"}',890703970);
INSERT INTO "events" VALUES(3,'old-2',1,'{"kind":"started","at":"2031-05-04T09:00:00Z","job":"old-2","profile":{"name":"knee mill","scale":{"system":"thou","reach":30,"step":"0.5"},"sweep_diameter":{"mm":"254.0"},"tolerance":{"mm":"0.1016"},"pivot_offset":{"mm":"0.0"},"span":null,"stock":["1.5","2","3","4","5","6","7","8","9","10","12","15","20","25"],"max_leaves":3,"method":"indicator","reading_sd":"0.5","relock_sd":"0.5"}}',258403185);
CREATE TABLE jobs (
        position INTEGER PRIMARY KEY,
        id TEXT NOT NULL UNIQUE,
        machine TEXT NOT NULL,
        started_at TEXT NOT NULL
    ) STRICT;
INSERT INTO "jobs" VALUES(1,'old-1','drill press','2031-05-04T08:00:00Z');
INSERT INTO "jobs" VALUES(2,'old-2','knee mill','2031-05-04T08:00:00Z');
CREATE TABLE snapshots (
        job TEXT PRIMARY KEY REFERENCES jobs (id),
        number INTEGER NOT NULL,
        code TEXT NOT NULL,
        body TEXT NOT NULL,
        crc INTEGER NOT NULL
    ) STRICT;
CREATE TRIGGER jobs_stay BEFORE UPDATE ON jobs
        BEGIN SELECT RAISE(ABORT, 'the record is append-only'); END;
CREATE TRIGGER jobs_are_kept BEFORE DELETE ON jobs
        BEGIN SELECT RAISE(ABORT, 'the record is append-only'); END;
CREATE TRIGGER events_stay BEFORE UPDATE ON events
        BEGIN SELECT RAISE(ABORT, 'the record is append-only'); END;
CREATE TRIGGER events_are_kept BEFORE DELETE ON events
        BEGIN SELECT RAISE(ABORT, 'the record is append-only'); END;
CREATE TRIGGER closings_stay BEFORE UPDATE ON closings
        BEGIN SELECT RAISE(ABORT, 'the record is append-only'); END;
CREATE TRIGGER closings_are_kept BEFORE DELETE ON closings
        BEGIN SELECT RAISE(ABORT, 'the record is append-only'); END;
CREATE TRIGGER events_in_order BEFORE INSERT ON events
        WHEN NEW.number IS NOT
            (SELECT coalesce(max(number), 0) + 1 FROM events WHERE job = NEW.job)
        BEGIN SELECT RAISE(ABORT, 'the events of a job are numbered in order'); END;
CREATE TRIGGER events_of_open_jobs BEFORE INSERT ON events
        WHEN EXISTS (SELECT 1 FROM closings WHERE job = NEW.job)
        BEGIN SELECT RAISE(ABORT, 'the job is closed'); END;
COMMIT;
