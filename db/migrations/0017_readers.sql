-- In what a person reads: language, units of tension and of water, clock. What somebody did not choose is as their
-- facility has it. A language is the name of a catalogue of texts, and one more of these needs no change here.

ALTER TABLE facility
    ADD COLUMN language text NOT NULL DEFAULT 'en' CHECK (language ~ '^[a-z]{2,3}(_[A-Za-z]{2,8})*$'),
    ADD COLUMN tension_unit text NOT NULL DEFAULT 'mbar' CHECK (tension_unit IN ('mbar', 'kPa', 'cbar')),
    ADD COLUMN volume_unit text NOT NULL DEFAULT 'l' CHECK (volume_unit IN ('l', 'gal')),
    ADD COLUMN clock text NOT NULL DEFAULT '24h' CHECK (clock IN ('24h', '12h'));

ALTER TABLE person
    ADD COLUMN language text CHECK (language ~ '^[a-z]{2,3}(_[A-Za-z]{2,8})*$'),
    ADD COLUMN tension_unit text CHECK (tension_unit IN ('mbar', 'kPa', 'cbar')),
    ADD COLUMN volume_unit text CHECK (volume_unit IN ('l', 'gal')),
    ADD COLUMN clock text CHECK (clock IN ('24h', '12h'));
