BEGIN TRANSACTION;
CREATE TABLE campaign (
	code VARCHAR(20) NOT NULL, 
	ties TEXT NOT NULL, 
	PRIMARY KEY (code)
);
CREATE TABLE campaign_family (
	family VARCHAR(20) NOT NULL, 
	campaign VARCHAR(20) NOT NULL, 
	PRIMARY KEY (family), 
	FOREIGN KEY(family) REFERENCES family (code), 
	FOREIGN KEY(campaign) REFERENCES campaign (code)
);
CREATE TABLE consignment (
	code VARCHAR(120) NOT NULL, 
	folder TEXT NOT NULL, 
	received_at VARCHAR(32) NOT NULL, 
	has_list BOOLEAN NOT NULL, 
	shown_to_others BOOLEAN NOT NULL, 
	PRIMARY KEY (code)
);
CREATE TABLE decision (
	id INTEGER NOT NULL, 
	made_at VARCHAR(32) NOT NULL, 
	who TEXT NOT NULL, 
	verb VARCHAR(20) NOT NULL, 
	parts TEXT NOT NULL, 
	shown TEXT NOT NULL, 
	undoes INTEGER, 
	PRIMARY KEY (id), 
	UNIQUE (undoes), 
	FOREIGN KEY(undoes) REFERENCES decision (id)
);
CREATE TABLE family (
	code VARCHAR(20) NOT NULL, 
	status VARCHAR(12) NOT NULL, 
	title TEXT NOT NULL, 
	weakest TEXT NOT NULL, 
	PRIMARY KEY (code)
);
CREATE TABLE listed (
	consignment VARCHAR(120) NOT NULL, 
	line INTEGER NOT NULL, 
	box TEXT NOT NULL, 
	piece TEXT NOT NULL, 
	description TEXT NOT NULL, 
	sides INTEGER NOT NULL, 
	held BOOLEAN NOT NULL, 
	why TEXT NOT NULL, 
	PRIMARY KEY (consignment, line), 
	FOREIGN KEY(consignment) REFERENCES consignment (code)
);
CREATE TABLE member (
	family VARCHAR(20) NOT NULL, 
	digest VARCHAR(64) NOT NULL, 
	part INTEGER NOT NULL, 
	role VARCHAR(30) NOT NULL, 
	probability FLOAT NOT NULL, 
	PRIMARY KEY (family, digest, part), 
	FOREIGN KEY(family) REFERENCES family (code)
);
CREATE TABLE move (
	id INTEGER NOT NULL, 
	consignment VARCHAR(120) NOT NULL, 
	box TEXT NOT NULL, 
	piece TEXT NOT NULL, 
	from_place TEXT NOT NULL, 
	to_place TEXT NOT NULL, 
	at VARCHAR(32) NOT NULL, 
	who TEXT NOT NULL, 
	PRIMARY KEY (id), 
	FOREIGN KEY(consignment) REFERENCES consignment (code)
);
CREATE TABLE pair (
	digest_a VARCHAR(64) NOT NULL, 
	part_a INTEGER NOT NULL, 
	digest_b VARCHAR(64) NOT NULL, 
	part_b INTEGER NOT NULL, 
	stamp VARCHAR(16) NOT NULL, 
	variants INTEGER NOT NULL, 
	payload TEXT, 
	cpu_s FLOAT NOT NULL, 
	PRIMARY KEY (digest_a, part_a, digest_b, part_b, stamp)
);
CREATE TABLE piece_relation (
	id INTEGER NOT NULL, 
	consignment VARCHAR(120) NOT NULL, 
	box TEXT NOT NULL, 
	piece TEXT NOT NULL, 
	relation VARCHAR(20) NOT NULL, 
	other_box TEXT NOT NULL, 
	other_piece TEXT NOT NULL, 
	number INTEGER, 
	"of" INTEGER, 
	at VARCHAR(32) NOT NULL, 
	who TEXT NOT NULL, 
	PRIMARY KEY (id), 
	FOREIGN KEY(consignment) REFERENCES consignment (code)
);
CREATE TABLE queue_entry (
	family VARCHAR(20) NOT NULL, 
	weight FLOAT NOT NULL, 
	reasons TEXT NOT NULL, 
	PRIMARY KEY (family), 
	FOREIGN KEY(family) REFERENCES family (code)
);
CREATE TABLE receipt_finding (
	consignment VARCHAR(120) NOT NULL, 
	path_key VARCHAR(64) NOT NULL, 
	path TEXT NOT NULL, 
	code VARCHAR(60) NOT NULL, 
	severity VARCHAR(12) NOT NULL, 
	message TEXT NOT NULL, 
	found_at VARCHAR(32) NOT NULL, 
	PRIMARY KEY (consignment, path_key, code), 
	FOREIGN KEY(consignment) REFERENCES consignment (code)
);
CREATE TABLE related (
	id INTEGER NOT NULL, 
	"key" VARCHAR(64) NOT NULL, 
	PRIMARY KEY (id)
);
CREATE TABLE ruled_reading (
	decision INTEGER NOT NULL, 
	payload TEXT NOT NULL, 
	PRIMARY KEY (decision), 
	FOREIGN KEY(decision) REFERENCES decision (id)
);
CREATE TABLE run (
	id INTEGER NOT NULL, 
	started_at VARCHAR(32) NOT NULL, 
	ended_at VARCHAR(32), 
	ending TEXT, 
	engines TEXT NOT NULL, 
	stamps TEXT NOT NULL, 
	report TEXT, 
	PRIMARY KEY (id)
);
INSERT INTO "run" VALUES(1,'2026-11-02T20:00:00+00:00','2026-11-02T21:00:00+00:00','done','{}','{"stages":{"check":"c"},"whole":"w","match":"m"}','');
CREATE TABLE scan (
	consignment VARCHAR(120) NOT NULL, 
	path_key VARCHAR(64) NOT NULL, 
	path TEXT NOT NULL, 
	box TEXT NOT NULL, 
	piece TEXT NOT NULL, 
	side VARCHAR(12) NOT NULL, 
	digest VARCHAR(64) NOT NULL, 
	size_bytes BIGINT NOT NULL, 
	modified_ns VARCHAR(32) NOT NULL, 
	received_at VARCHAR(32) NOT NULL, 
	is_reference BOOLEAN NOT NULL, 
	sequence VARCHAR(12) NOT NULL, 
	PRIMARY KEY (consignment, path_key), 
	FOREIGN KEY(consignment) REFERENCES consignment (code)
);
CREATE TABLE several (
	id INTEGER NOT NULL, 
	sort VARCHAR(12) NOT NULL, 
	payload TEXT NOT NULL, 
	PRIMARY KEY (id)
);
CREATE TABLE waiting_reading (
	id INTEGER NOT NULL, 
	digest VARCHAR(64) NOT NULL, 
	part INTEGER NOT NULL, 
	kind VARCHAR(30) NOT NULL, 
	same VARCHAR(400) NOT NULL, 
	payload TEXT NOT NULL, 
	PRIMARY KEY (id)
);
CREATE TABLE work (
	digest VARCHAR(64) NOT NULL, 
	part INTEGER NOT NULL, 
	stage VARCHAR(20) NOT NULL, 
	stamp VARCHAR(16) NOT NULL, 
	state VARCHAR(12) NOT NULL, 
	payload TEXT NOT NULL, 
	cpu_s FLOAT NOT NULL, 
	made_at VARCHAR(32) NOT NULL, 
	PRIMARY KEY (digest, part, stage, stamp)
);
CREATE INDEX work_by_stage ON work (stage, stamp);
CREATE INDEX pair_by_stamp ON pair (stamp);
CREATE INDEX waiting_reading_by_digest ON waiting_reading (digest);
CREATE INDEX waiting_reading_by_value ON waiting_reading (kind, same, digest);
CREATE INDEX scan_by_digest ON scan (digest);
CREATE INDEX campaign_family_by_campaign ON campaign_family (campaign);
COMMIT;
