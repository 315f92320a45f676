-- A log as the program wrote it before a row was kept of each joint for those who lead a crew:
-- made by that program.
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
CREATE TABLE marks (
            entry TEXT NOT NULL,
            job TEXT NOT NULL,
            mark TEXT NOT NULL,
            said TEXT NOT NULL,
            PRIMARY KEY (entry, mark)
        ) WITHOUT ROWID;
CREATE TABLE looked_through (form TEXT NOT NULL);
CREATE TABLE leaves (n INTEGER PRIMARY KEY, hash BLOB NOT NULL);
CREATE TABLE branches (
            level INTEGER NOT NULL, n INTEGER NOT NULL, hash BLOB NOT NULL, PRIMARY KEY (level, n)
        ) WITHOUT ROWID;
CREATE VIRTUAL TABLE search USING fts5
        (words, content='', columnsize=0, prefix='1 2 3 4',
         tokenize='unicode61 remove_diacritics 2');
CREATE INDEX entries_by_job ON entries (job);
CREATE INDEX entries_by_joint ON entries (joint) WHERE joint <> '';
CREATE INDEX entries_by_run ON entries (run) WHERE run <> '';
CREATE INDEX entries_of_prices ON entries (at, id) WHERE kind = 'prices';
CREATE INDEX jobs_by_last ON jobs (last_day);
CREATE INDEX joints_by_id ON joints (id);
CREATE INDEX marks_by_job ON marks (job, mark);
CREATE INDEX entries_of_photos ON entries (json_extract(understood, '$.digest')) WHERE kind = 'photo';
CREATE INDEX joints_that_cure ON joints (job, json_extract(facts, '$."weld.ready_at".value')) WHERE json_extract(facts, '$."weld.ready_at".value') IS NOT NULL;
CREATE INDEX joints_found_out ON joints (opened_at, json_extract(facts, '$."leak.really".value')) WHERE json_extract(facts, '$."leak.really".value') IS NOT NULL;
CREATE INDEX jobs_by_state ON jobs (closed, last_day);
INSERT INTO migrations VALUES ('find_photos');
INSERT INTO migrations VALUES ('find_short_beginnings');
INSERT INTO migrations VALUES ('find_what_cures_and_what_was_found_out');
INSERT INTO migrations VALUES ('keep_arrivals');
INSERT INTO migrations VALUES ('list_jobs_by_state');
INSERT INTO migrations VALUES ('make_company');
INSERT INTO migrations VALUES ('make_entries');
INSERT INTO migrations VALUES ('make_marks');
INSERT INTO migrations VALUES ('make_read_models');
INSERT INTO migrations VALUES ('make_refused');
INSERT INTO migrations VALUES ('make_search');
INSERT INTO entries VALUES (1,'019de3d9-9220-7000-872a-6b4a0f5f1c9e','2026-05-01T14:03:00.000Z','job-1','','job','','','','{}','{"name":"North bed","place":"Gate 2"}',NULL,'{}','Ann','','','','2026-05-01T14:03:00.000Z');
INSERT INTO entries VALUES (2,'019de3d9-9608-7000-898a-342c7a3a7aed','2026-05-01T14:03:01.000Z','job-1','joint-1','joint','','','','{}','{"name":"Valve box, left"}',NULL,'{}','','','','','2026-05-01T14:03:00.000Z');
INSERT INTO entries VALUES (3,'019de3d9-99f0-7000-8ed2-200cce19efb0','2026-05-01T14:03:02.000Z','job-1','joint-1','answer','measure-pipe','run-1','od','{"value":["13/16 in"]}','0.8125',NULL,'{}','','','','','2026-05-01T14:03:00.000Z');
INSERT INTO entries VALUES (4,'019de3d9-9dd8-7000-8b67-66efe9671536','2026-05-01T14:03:03.000Z','job-1','joint-1','answer','measure-pipe','run-1','wall','{"answer":["cant-tell"]}','null',NULL,'{}','','','','','2026-05-01T14:03:00.000Z');
INSERT INTO entries VALUES (5,'019de3d9-a1c0-7000-8ee8-94e4f9be54ed','2026-05-01T14:03:04.000Z','job-1','joint-1','result','measure-pipe','run-1','','{}','null','{"headline":"It is ½ in. pipe.","od_in":0.84,"verdict":"decided"}','{"pipe.nominal":"1/2","pipe.od_in":0.84}','','','','','2026-05-01T14:03:00.000Z');
INSERT INTO entries VALUES (6,'019de3d9-a5a8-7000-8715-0f6984368768','2026-05-01T14:03:05.000Z','job-1','joint-1','note','','','','{}','null',NULL,'{}','','','','=SUM(A1) is what “he” wrote,
wet 💧 box','2026-05-01T14:03:00.000Z');
INSERT INTO entries VALUES (7,'019de3d9-a990-7000-a81e-c941e24d3b31','2026-05-01T14:03:06.000Z','','','prices','','','','{}','{"coupling-1/2":0.5}',NULL,'{}','','','','','2026-05-01T14:03:00.000Z');
INSERT INTO entries VALUES (8,'019de3d9-b160-7000-a67e-5e8e16371732','2026-05-01T14:03:08.000Z','job-1','joint-1','photo','','','','{}','{"about":"","digest":"abababababababababababababababababababababababababababababababab"}',NULL,'{}','Ann','','','','2026-05-01T14:03:00.000Z');
INSERT INTO entries VALUES (9,'019de3d9-b548-7000-a188-8ac0f5969782','2026-05-01T14:03:09.000Z','job-1','','signature','','','','{}','{"complete":{},"name":"Ann","waived":[]}','{"digest":"a37842351e2fb3f03fed9817b6bff42e893b28486f924fa312e303b9b2ad07c4","digests":{"019de3d9-9220-7000-872a-6b4a0f5f1c9e":"218ef64c7e2f8b8cd6e22f0379dab08a2106d74e9a8b427bde2066f590b8a1e5","019de3d9-9608-7000-898a-342c7a3a7aed":"c84498b097e651f09b484cb2d46c09918cb6b8a099583e3b86964bf81c88f941","019de3d9-99f0-7000-8ed2-200cce19efb0":"8233564d15aa0d584c6a3b2317947e3379b306cd85a2fbdff32f20017ee952bb","019de3d9-9dd8-7000-8b67-66efe9671536":"cfeb607a3148cc036e4dbcdc6b4469f2412348b39fd09f0f2102c01ce0bb0cf7","019de3d9-a1c0-7000-8ee8-94e4f9be54ed":"f6a087a912e54aef9180b8167aa9b49b4b9c2e8cec781ab49932af45baed8439","019de3d9-a5a8-7000-8715-0f6984368768":"f492e9c452348c3fb4b4e29cc791729d6719da8cb57f632a0829325998973a6c","019de3d9-b160-7000-a67e-5e8e16371732":"7ecc5cba1e437a39fbacb59ce805ba6cbd6bc2c0318a1a67960f89284a8488a1"},"entries":7,"form":"RFC 8785"}','{}','','','','','2026-05-01T14:03:00.000Z');
INSERT INTO entries VALUES (10,'019de3d9-b930-7000-b5b9-cd4857a8e25a','2026-05-01T14:03:10.000Z','job-1','joint-1','note','','','','{}','null',NULL,'{}','Bo','','','After the signature','2026-05-01T14:03:00.000Z');
INSERT INTO jobs VALUES ('job-1','North bed','Gate 2',0,0,'2026-05-01T14:03:00.000Z','2026-05-01T14:03:10.000Z','2026-05-01',1,9,'{"name":{"at":"2026-05-01T14:03:00.000Z","entry":"019de3d9-9220-7000-872a-6b4a0f5f1c9e","value":"North bed"},"place":{"at":"2026-05-01T14:03:00.000Z","entry":"019de3d9-9220-7000-872a-6b4a0f5f1c9e","value":"Gate 2"}}');
INSERT INTO joints VALUES ('job-1','joint-1','Valve box, left','2026-05-01T14:03:01.000Z','2026-05-01T14:03:10.000Z',7,'{"name":{"at":"2026-05-01T14:03:01.000Z","entry":"019de3d9-9608-7000-898a-342c7a3a7aed","value":"Valve box, left"}}','{"pipe.nominal":{"at":"2026-05-01T14:03:04.000Z","entry":"019de3d9-a1c0-7000-8ee8-94e4f9be54ed","value":"1/2"},"pipe.od_in":{"at":"2026-05-01T14:03:04.000Z","entry":"019de3d9-a1c0-7000-8ee8-94e4f9be54ed","value":0.84}}','{"measure-pipe":{"at":"2026-05-01T14:03:04.000Z","entry":"019de3d9-a1c0-7000-8ee8-94e4f9be54ed","headline":"It is ½ in. pipe.","run":"run-1","said":null,"verdict":"decided"}}');
INSERT INTO searched VALUES (0);
INSERT INTO company VALUES ('ce9955c18abb6ebb13067f68df4174d7');
INSERT INTO marks VALUES ('019de3d9-b160-7000-a67e-5e8e16371732','job-1','unfit','{"parts":"understood.bytes"}');
INSERT INTO looked_through VALUES ('b1c92539cd9e1c7e');
INSERT INTO leaves VALUES (1,X'3DEDA8B9CF38C4D8379BB59B267DBE79C1DF16CAAF8D897FC02FCE74C742497E');
INSERT INTO leaves VALUES (2,X'B631C286EE3ADB4E9522D6BD874CD04EDF91C54B19A79BDCA121CC3F13C8D8DF');
INSERT INTO leaves VALUES (3,X'CB1B4F4D2BD3320462C9A8683D576F2AF70AA69E2174D4EB376AF502262485B7');
INSERT INTO leaves VALUES (4,X'6C858C2D76EDB484FBA2A752CF8F135688A07B0471700B32015C3E68CE02A3D2');
INSERT INTO leaves VALUES (5,X'347963EC911883008C0B7F9474781B86CE813590F7698CD8DEFEADAFEFCAE26C');
INSERT INTO leaves VALUES (6,X'E4B5BE492354742C89CA945285ED3FF592FBEB8CAAFBE28C062366A4A66181D5');
INSERT INTO leaves VALUES (7,X'52E981ACB85157F6D29BF22DF093A6DA77EA28A3A552920C6E018467FA3091DF');
INSERT INTO leaves VALUES (8,X'CA734AE5DC91AE2BF559DE9D2FD03AF195633C8C3A2B5D81A7CD78A9D4CE2D6C');
INSERT INTO leaves VALUES (9,X'D292F32730BFE104EB42108864CB725FCD1C237F8BA2D04CD21F4734F10D2EEF');
INSERT INTO leaves VALUES (10,X'FDD0D76066055FE527896C134485FDC887F4B5AD8432B9EC0F6A42FDE90EEDF3');
CREATE TRIGGER entries_are_not_replaced BEFORE INSERT ON entries
        WHEN EXISTS (SELECT 1 FROM entries WHERE id = NEW.id OR seq = NEW.seq)
        BEGIN SELECT RAISE(ABORT, 'an entry is never replaced'); END;
CREATE TRIGGER entries_are_not_changed BEFORE UPDATE ON entries
        BEGIN SELECT RAISE(ABORT, 'an entry is never changed'); END;
CREATE TRIGGER entries_are_not_removed BEFORE DELETE ON entries
        BEGIN SELECT RAISE(ABORT, 'an entry is never removed'); END;
