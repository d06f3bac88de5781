-- The tables of a journal of version 1, as dawnbrew 0.1.0 made them; never changed.
CREATE TABLE meta (
	"key" TEXT NOT NULL, 
	value TEXT NOT NULL, 
	CONSTRAINT pk_meta PRIMARY KEY ("key")
);
CREATE TABLE notes (
	id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT, 
	kind TEXT NOT NULL, 
	"of" TEXT NOT NULL, 
	at TEXT NOT NULL, 
	"on" TEXT, 
	"by" TEXT, 
	brew_l FLOAT, 
	liquid_c FLOAT, 
	foam TEXT, 
	smell TEXT, 
	reason TEXT, 
	batch TEXT, 
	"key" TEXT, 
	corrects INTEGER, 
	is_undone BOOLEAN NOT NULL, 
	noted_at TEXT NOT NULL, 
	CONSTRAINT uq_notes_key UNIQUE ("key"), 
	CONSTRAINT uq_notes_corrects UNIQUE (corrects), 
	CONSTRAINT ck_notes_kind_is_known CHECK (kind IN ('started', 'looked', 'applied', 'skipped', 'planted', 'measured')), 
	CONSTRAINT ck_notes_foam_is_known CHECK (foam IN ('young', 'foam', 'past')), 
	CONSTRAINT fk_notes_corrects FOREIGN KEY(corrects) REFERENCES notes (id)
);
CREATE INDEX ix_notes_at ON notes (at);
CREATE INDEX ix_notes_of_at ON notes ("of", at);
CREATE TRIGGER no_update_of_notes BEFORE UPDATE ON notes BEGIN SELECT RAISE(ABORT, 'notes are never changed'); END;
CREATE TRIGGER no_delete_of_notes BEFORE DELETE ON notes BEGIN SELECT RAISE(ABORT, 'notes are never changed'); END;
CREATE TABLE revisions (
	number INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT, 
	stored_at TEXT NOT NULL, 
	reason TEXT NOT NULL, 
	file_sha256 TEXT NOT NULL, 
	plan_sha256 TEXT NOT NULL, 
	up_to_note INTEGER, 
	changes TEXT NOT NULL, 
	"plan" BLOB NOT NULL, 
	CONSTRAINT fk_revisions_up_to_note FOREIGN KEY(up_to_note) REFERENCES notes (id)
);
CREATE INDEX ix_revisions_stored_at ON revisions (stored_at);
CREATE TRIGGER no_update_of_revisions BEFORE UPDATE ON revisions BEGIN SELECT RAISE(ABORT, 'revisions are never changed'); END;
CREATE TRIGGER no_delete_of_revisions BEFORE DELETE ON revisions BEGIN SELECT RAISE(ABORT, 'revisions are never changed'); END;
CREATE TABLE nudges (
	"key" TEXT NOT NULL, 
	kind TEXT NOT NULL, 
	task TEXT, 
	person TEXT, 
	send_at TEXT NOT NULL, 
	until_at TEXT, 
	title TEXT NOT NULL, 
	text TEXT NOT NULL, 
	stays BOOLEAN NOT NULL, 
	revision INTEGER, 
	state TEXT NOT NULL, 
	added_at TEXT NOT NULL, 
	changed_at TEXT NOT NULL, 
	CONSTRAINT pk_nudges PRIMARY KEY ("key"), 
	CONSTRAINT ck_nudges_state_is_known CHECK (state IN ('waiting', 'handed', 'delivered', 'failed', 'missed', 'withdrawn')), 
	CONSTRAINT fk_nudges_revision FOREIGN KEY(revision) REFERENCES revisions (number)
);
CREATE INDEX ix_nudges_state_send_at ON nudges (state, send_at);
CREATE INDEX ix_nudges_task ON nudges (task);
CREATE TABLE deliveries (
	id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT, 
	nudge TEXT NOT NULL, 
	channel TEXT NOT NULL, 
	state TEXT NOT NULL, 
	attempts INTEGER NOT NULL, 
	next_at TEXT NOT NULL, 
	error TEXT, 
	changed_at TEXT NOT NULL, 
	CONSTRAINT uq_deliveries_nudge_channel UNIQUE (nudge, channel), 
	CONSTRAINT ck_deliveries_state_is_known CHECK (state IN ('open', 'handed', 'delivered', 'failed')), 
	CONSTRAINT fk_deliveries_nudge FOREIGN KEY(nudge) REFERENCES nudges ("key")
);
CREATE INDEX ix_deliveries_state_changed_at ON deliveries (state, changed_at);
CREATE INDEX ix_deliveries_state_next_at ON deliveries (state, next_at);
