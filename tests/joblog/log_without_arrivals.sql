-- A log as the program wrote it before arrival was kept as a tree: made by that program.
CREATE TABLE migrations (name TEXT PRIMARY KEY) WITHOUT ROWID;
CREATE TABLE entries (
            seq INTEGER PRIMARY KEY,
            id TEXT NOT NULL UNIQUE,
            at TEXT NOT NULL,
            job TEXT NOT NULL,
            joint TEXT NOT NULL,
            kind TEXT NOT NULL,
            flow TEXT NOT NULL,
            run TEXT NOT NULL,
            step TEXT NOT NULL,
            typed TEXT NOT NULL,
            understood TEXT NOT NULL,
            result TEXT,
            facts TEXT NOT NULL,
            who TEXT NOT NULL,
            device TEXT NOT NULL,
            replaces TEXT NOT NULL,
            note TEXT NOT NULL,
            received TEXT NOT NULL
        );
CREATE INDEX entries_by_job ON entries (job);
CREATE INDEX entries_by_joint ON entries (joint) WHERE joint <> '';
CREATE INDEX entries_by_run ON entries (run) WHERE run <> '';
CREATE INDEX entries_of_prices ON entries (at, id) WHERE kind = 'prices';
CREATE TABLE jobs (
            id TEXT PRIMARY KEY,
            name TEXT NOT NULL DEFAULT '',
            place TEXT NOT NULL DEFAULT '',
            demo INTEGER NOT NULL DEFAULT 0,
            closed INTEGER NOT NULL DEFAULT 0,
            opened_at TEXT NOT NULL,
            last_at TEXT NOT NULL,
            last_day TEXT NOT NULL,
            joints INTEGER NOT NULL,
            entries INTEGER NOT NULL,
            about TEXT NOT NULL DEFAULT '{}'
        ) WITHOUT ROWID;
CREATE INDEX jobs_by_last ON jobs (last_day);
CREATE TABLE joints (
            job TEXT NOT NULL,
            id TEXT NOT NULL,
            name TEXT NOT NULL,
            opened_at TEXT NOT NULL,
            last_at TEXT NOT NULL,
            entries INTEGER NOT NULL,
            about TEXT NOT NULL,
            facts TEXT NOT NULL,
            states TEXT NOT NULL,
            PRIMARY KEY (job, id)
        );
CREATE INDEX joints_by_id ON joints (id);
CREATE VIRTUAL TABLE search USING fts5
        (words, content='', columnsize=0, tokenize='unicode61 remove_diacritics 2');
CREATE TABLE searched (seq INTEGER NOT NULL);
CREATE TABLE refused (
            name TEXT NOT NULL,
            body TEXT NOT NULL,
            reason TEXT NOT NULL,
            who TEXT NOT NULL,
            received TEXT NOT NULL,
            PRIMARY KEY (name, body)
        ) WITHOUT ROWID;
CREATE TABLE company (id TEXT NOT NULL);
CREATE INDEX entries_of_photos ON entries (json_extract(understood, '$.digest')) WHERE kind = 'photo';
INSERT INTO migrations VALUES ('find_photos');
INSERT INTO migrations VALUES ('make_company');
INSERT INTO migrations VALUES ('make_entries');
INSERT INTO migrations VALUES ('make_read_models');
INSERT INTO migrations VALUES ('make_refused');
INSERT INTO migrations VALUES ('make_search');
INSERT INTO entries VALUES (1, '019de3d9-9220-7000-8000-000000000000', '2026-05-01T14:03:00.000Z', 'job-1', '', 'job', '', '', '', '{}', '{"name":"North bed","place":"Gate 2"}', NULL, '{}', 'Ann', '', '', '', '2026-05-01T14:04:00.000Z');
INSERT INTO entries VALUES (2, '019de3d9-9608-7000-8101-010101010101', '2026-05-01T14:03:01.000Z', 'job-1', 'joint-1', 'joint', '', '', '', '{}', '{"name":"Valve box, left"}', NULL, '{}', '', '', '', '', '2026-05-01T14:04:00.000Z');
INSERT INTO entries VALUES (3, '019de3d9-99f0-7000-8202-020202020202', '2026-05-01T14:03:02.000Z', 'job-1', 'joint-1', 'answer', 'measure-pipe', 'run-1', 'temperature', '{"value":["68 °F"]}', '68.0', NULL, '{}', '', '', '', '', '2026-05-01T14:04:00.000Z');
INSERT INTO entries VALUES (4, '019de3d9-9dd8-7000-8303-030303030303', '2026-05-01T14:03:03.000Z', 'job-1', 'joint-1', 'result', 'measure-pipe', 'run-1', '', '{}', 'null', '{"big":1e+16,"headline":"It is ½ in. pipe.","od_in":1.0,"rows":[2.0,{"a":0.5,"b":1e+21}],"slope":1e-05,"tiny":5e-324,"verdict":"decided","zero":-0.0}', '{"pipe.nominal":"1/2","pipe.od_in":1.0}', '', '', '', '', '2026-05-01T14:04:00.000Z');
INSERT INTO entries VALUES (5, '019de3d9-a1c0-7000-8404-040404040404', '2026-05-01T14:03:04.000Z', 'job-1', 'joint-1', 'note', '', '', '', '{}', 'null', NULL, '{}', '', '', '', 'wet 💧 “box”', '2026-05-01T14:04:00.000Z');
INSERT INTO entries VALUES (6, '019de3d9-b930-7000-8a0a-0a0a0a0a0a0a', '2026-05-01T14:03:10.000Z', 'job-1', '', 'signature', '', '', '', '{}', '{"complete":{},"name":"Ann","waived":[{"joint":"joint-1","point":"cured","reason":"dry fit"}]}', '{"digest":"96d90a7ba17ade085ca4dfe8c049c76a38e44b2621d7c8ec6e85533197ed7d6f","digests":{"019de3d9-9220-7000-8000-000000000000":"a3a4d6c48669f666e04eb1ed198697b95017b13d0521f36f529e352dc0c2ca1f","019de3d9-9608-7000-8101-010101010101":"d33c5fb8df9d235f7295c651f1a63d2925b58085d651f44da36ab3b5b2d5885a","019de3d9-99f0-7000-8202-020202020202":"32f6e52f4e8f7496026396c2b73801e290853986c89c44e966e4c70893e7bc34","019de3d9-9dd8-7000-8303-030303030303":"d3616ec33c2adb4e7fe35158193d2aa6d502dba20282cbdb312435b5f4d8c925","019de3d9-a1c0-7000-8404-040404040404":"142f71db9e53a3dcdf83ccf31e8cb04bd538d3c0dc8d690b8173b0f3b427f2c2"},"entries":5,"headline":"Signed by Ann"}', '{}', 'Ann', '', '', '', '2026-05-01T14:04:00.000Z');
INSERT INTO entries VALUES (7, '019de3d9-bd18-7000-8b0b-0b0b0b0b0b0b', '2026-05-01T14:03:11.000Z', 'job-1', 'joint-1', 'note', '', '', '', '{}', 'null', NULL, '{}', '', '', '', 'later', '2026-05-01T14:04:10.000Z');
INSERT INTO jobs VALUES ('job-1', 'North bed', 'Gate 2', 0, 0, '2026-05-01T14:03:00.000Z', '2026-05-01T14:03:11.000Z', '2026-05-01', 1, 7, '{"name":{"at":"2026-05-01T14:03:00.000Z","entry":"019de3d9-9220-7000-8000-000000000000","value":"North bed"},"place":{"at":"2026-05-01T14:03:00.000Z","entry":"019de3d9-9220-7000-8000-000000000000","value":"Gate 2"}}');
INSERT INTO joints VALUES ('job-1', 'joint-1', 'Valve box, left', '2026-05-01T14:03:01.000Z', '2026-05-01T14:03:11.000Z', 5, '{"name":{"at":"2026-05-01T14:03:01.000Z","entry":"019de3d9-9608-7000-8101-010101010101","value":"Valve box, left"}}', '{"pipe.nominal":{"at":"2026-05-01T14:03:03.000Z","entry":"019de3d9-9dd8-7000-8303-030303030303","value":"1/2"},"pipe.od_in":{"at":"2026-05-01T14:03:03.000Z","entry":"019de3d9-9dd8-7000-8303-030303030303","value":1.0}}', '{"measure-pipe":{"at":"2026-05-01T14:03:03.000Z","entry":"019de3d9-9dd8-7000-8303-030303030303","headline":"It is ½ in. pipe.","run":"run-1","said":null,"verdict":"decided"}}');
INSERT INTO searched VALUES (0);
INSERT INTO company VALUES ('8ba1f1541cdaa5b2308a6e9aafb3f95a');
CREATE TRIGGER entries_are_not_replaced BEFORE INSERT ON entries
        WHEN EXISTS (SELECT 1 FROM entries WHERE id = NEW.id OR seq = NEW.seq)
        BEGIN SELECT RAISE(ABORT, 'an entry is never replaced'); END;
CREATE TRIGGER entries_are_not_changed BEFORE UPDATE ON entries
        BEGIN SELECT RAISE(ABORT, 'an entry is never changed'); END;
CREATE TRIGGER entries_are_not_removed BEFORE DELETE ON entries
        BEGIN SELECT RAISE(ABORT, 'an entry is never removed'); END;
