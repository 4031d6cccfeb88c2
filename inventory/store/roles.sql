-- Least rights on a practice's PostgreSQL database: three roles, named after the database.
--
--   NAME_view     looks at everything and changes nothing
--   NAME_work     daily work as well: books out, receives, counts, plans visits, writes orders, holds lots
--   NAME_manage   management as well: catalogue, people, places, settings, estimates
--
-- Documents, movements, count lines, estimates and the record of changes can be updated or deleted by none of them.
-- Each role has what the one before it has. The tables stay with the owner of the database, who alone makes and
-- migrates them.
--
-- Run this as that owner, who needs the right to create roles; again after each new version of the program, since new
-- tables are nobody's until then:
--
--   impression-stock roles-script | psql --set ON_ERROR_STOP=1 north
--   psql north --command 'CREATE ROLE anna LOGIN; GRANT north_work TO anna' --command '\password anna'

BEGIN;

DO $roles$
DECLARE
    may_view   constant text := current_database() || '_view';
    may_work   constant text := current_database() || '_work';
    may_manage constant text := current_database() || '_manage';
    -- what daily work writes, and of it what it may put right afterwards; the guards refuse the rest
    written constant text[] := ARRAY[
        'barcode', 'change', 'count_line', 'count_round', 'delivery', 'delivery_line', 'document', 'hold', 'holding',
        'lot', 'movement', 'notice', 'notice_case', 'notice_scope', 'purchase', 'purchase_line', 'shipment',
        'tray_trial', 'visit', 'visit_use'];
    amended constant text[] := ARRAY[
        'barcode', 'count_round', 'delivery (slip_no, purchase_id)',
        'hold (released_at, released_by_id, release_reason)', 'holding (on_hand)',
        'lot (number, number_is_ours, use_by, use_by_read, made_on, note)', 'notice', 'notice_case',
        'notice_scope (withdrawn_at)', 'purchase', 'purchase_line', 'shipment', 'visit'];
    -- what management writes, keeps right, and takes away where one thing only points at another
    kept constant text[] := ARRAY[
        'case_kind', 'item', 'item_fits', 'need', 'need_item', 'pack_content', 'person', 'place',
        'price_break', 'setting', 'size_prior', 'step', 'stock_rule', 'supplier', 'supply', 'tray_size'];
    taken_away constant text[] := ARRAY['item_fits', 'need_item', 'pack_content', 'price_break', 'stock_rule'];
    one text;
BEGIN
    IF octet_length(may_manage) > 63 THEN
        RAISE EXCEPTION 'the name of the database is too long for names of roles';
    END IF;
    FOREACH one IN ARRAY ARRAY[may_view, may_work, may_manage] LOOP
        IF NOT EXISTS (SELECT FROM pg_roles WHERE rolname = one) THEN
            EXECUTE format('CREATE ROLE %I NOLOGIN NOSUPERUSER NOCREATEDB NOCREATEROLE', one);
        END IF;
        EXECUTE format('REVOKE ALL ON ALL TABLES IN SCHEMA public FROM %I', one);
        EXECUTE format('REVOKE ALL ON ALL SEQUENCES IN SCHEMA public FROM %I', one);
    END LOOP;

    EXECUTE format('REVOKE ALL ON DATABASE %I FROM PUBLIC', current_database());
    REVOKE ALL ON SCHEMA public FROM PUBLIC;
    REVOKE ALL ON ALL TABLES IN SCHEMA public FROM PUBLIC;

    EXECUTE format('GRANT CONNECT ON DATABASE %I TO %I', current_database(), may_view);
    EXECUTE format('GRANT USAGE ON SCHEMA public TO %I', may_view);
    EXECUTE format('GRANT SELECT ON ALL TABLES IN SCHEMA public TO %I', may_view);

    EXECUTE format('GRANT %I TO %I', may_view, may_work);
    FOREACH one IN ARRAY written LOOP
        EXECUTE format('GRANT INSERT ON %I TO %I', one, may_work);
    END LOOP;
    FOREACH one IN ARRAY amended LOOP
        EXECUTE format('GRANT UPDATE %s ON %I TO %I', substring(one FROM '\(.*\)'), split_part(one, ' ', 1), may_work);
    END LOOP;

    EXECUTE format('GRANT %I TO %I', may_work, may_manage);
    FOREACH one IN ARRAY kept LOOP
        EXECUTE format('GRANT INSERT, UPDATE ON %I TO %I', one, may_manage);
    END LOOP;
    FOREACH one IN ARRAY taken_away LOOP
        EXECUTE format('GRANT DELETE ON %I TO %I', one, may_manage);
    END LOOP;
    EXECUTE format('GRANT INSERT ON estimate TO %I', may_manage);

    -- whoever may insert numbers the rows
    FOREACH one IN ARRAY written || kept || ARRAY['estimate'] LOOP
        CONTINUE WHEN NOT EXISTS (
            SELECT FROM information_schema.columns
            WHERE table_schema = 'public' AND table_name = one AND column_name = 'id');
        EXECUTE format('GRANT USAGE ON SEQUENCE %s TO %I', pg_get_serial_sequence(one, 'id'),
            CASE WHEN one = ANY (written) THEN may_work ELSE may_manage END);
    END LOOP;
END
$roles$;

COMMIT;
