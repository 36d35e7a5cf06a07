BEGIN TRANSACTION;
CREATE TABLE assignments (
	position INTEGER NOT NULL,
	programme_key TEXT NOT NULL,
	issue_date DATE NOT NULL,
	air_date DATE,
	readers TEXT NOT NULL,
	part INTEGER,
	PRIMARY KEY (position),
	FOREIGN KEY(programme_key) REFERENCES programmes ("key")
);
INSERT INTO "assignments" VALUES(0,'hour','2026-11-25','2026-11-25','["Tomas Vale"]',NULL);
INSERT INTO "assignments" VALUES(1,'request','2026-11-19',NULL,'["Ada Fenwick"]',NULL);
CREATE TABLE masters (
	reading_id TEXT NOT NULL,
	kind TEXT NOT NULL,
	path TEXT NOT NULL,
	bytes BIGINT NOT NULL,
	sha256 TEXT NOT NULL,
	facts TEXT NOT NULL,
	PRIMARY KEY (reading_id, kind),
	FOREIGN KEY(reading_id) REFERENCES readings (reading_id) ON DELETE CASCADE
);
INSERT INTO "masters" VALUES('r1','plan','masters/plan.json',3,'ca3d163bab055381827226140568f3bef7eaac187cebd76878e0b63e9e442356','{"cuts": 0}');
CREATE TABLE programmes (
	"key" TEXT NOT NULL,
	position INTEGER NOT NULL,
	title TEXT NOT NULL,
	publication TEXT NOT NULL,
	slot_s DOUBLE,
	window_shortest_s DOUBLE,
	window_longest_s DOUBLE,
	opening_words TEXT NOT NULL,
	closing_words TEXT NOT NULL,
	weekdays TEXT NOT NULL,
	air_times TEXT NOT NULL,
	serial BOOLEAN NOT NULL,
	PRIMARY KEY ("key")
);
INSERT INTO "programmes" VALUES('hour',0,'The Hour','The Post',3600.0,3360.0,3480.0,'This is {programme}, read by {reader}.','That was {programme}.','[0, 1, 2, 3, 4]','["19:00:00"]',FALSE);
INSERT INTO "programmes" VALUES('story',1,'The Story','A Lantern',1800.0,1620.0,1680.0,'Part {part}.','','[2]','["09:30:00", "23:45:00"]',TRUE);
INSERT INTO "programmes" VALUES('request',2,'A Request','A Lantern',NULL,NULL,NULL,'','','[]','[]',FALSE);
CREATE TABLE publications (
	"key" TEXT NOT NULL,
	position INTEGER NOT NULL,
	title TEXT NOT NULL,
	kind TEXT NOT NULL,
	appears TEXT NOT NULL,
	author TEXT NOT NULL,
	publisher TEXT NOT NULL,
	year INTEGER,
	PRIMARY KEY ("key")
);
INSERT INTO "publications" VALUES('post',0,'The Post','newspaper','daily','','',NULL);
INSERT INTO "publications" VALUES('lantern',1,'A Lantern','book','once','','',NULL);
CREATE TABLE readers (
	name TEXT NOT NULL,
	position INTEGER NOT NULL,
	PRIMARY KEY (name)
);
INSERT INTO "readers" VALUES('Ada Fenwick',0);
INSERT INTO "readers" VALUES('Tomas Vale',1);
CREATE TABLE readings (
	reading_id TEXT NOT NULL,
	programme_key TEXT NOT NULL,
	programme_title TEXT NOT NULL,
	publication TEXT NOT NULL,
	issue_date DATE NOT NULL,
	readers TEXT NOT NULL,
	air_date DATE,
	folder TEXT NOT NULL,
	state TEXT NOT NULL,
	revision INTEGER NOT NULL,
	takes INTEGER NOT NULL,
	duration_s DOUBLE NOT NULL,
	PRIMARY KEY (reading_id)
);
INSERT INTO "readings" VALUES('r1','hour','The Hour','The Post','2026-11-25','["Tomas Vale"]','2026-11-25','readings/hour/2026-11-25-r1','in the booth',3,1,2.08333333333333330442e-03);
CREATE TABLE schema_steps (
	number INTEGER NOT NULL,
	name TEXT NOT NULL,
	PRIMARY KEY (number)
);
INSERT INTO "schema_steps" VALUES(1,'what is planned, and the index of readings');
CREATE TABLE station (
	id INTEGER NOT NULL,
	name TEXT NOT NULL,
	note TEXT NOT NULL,
	zone TEXT NOT NULL,
	originator TEXT NOT NULL,
	place TEXT NOT NULL,
	PRIMARY KEY (id)
);
INSERT INTO "station" VALUES(1,'A Service','Invented.','Europe/London','A Service','');
CREATE INDEX ix_assignments_programme_key ON assignments (programme_key);
CREATE INDEX ix_assignments_air_date ON assignments (air_date);
CREATE INDEX ix_readings_programme_key ON readings (programme_key);
CREATE INDEX ix_readings_issue_date ON readings (issue_date);
CREATE INDEX ix_readings_air_date ON readings (air_date);
COMMIT;
