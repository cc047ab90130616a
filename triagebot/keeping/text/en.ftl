### What the person who runs the bot reads about backups, the doctor and letters that were set aside.
### What is so first, then what to do about it.

## Backups

backup-taken = { $file }: { $size }, checked. The key that opens it is { $key }; keep a copy of the key file elsewhere.
backup-dropped = { $file }: an older backup, deleted
backup-nothing = { $folder }: holds no database, so there is nothing to back up; name the data folder with --data
backup-inside = { $file }: lies in { $folder }, which it is a copy of; name a place elsewhere
backup-exists = { $file }: is there already, and was left as it is; take another name, or --force to replace it
backup-running = { $folder }: another backup or restore is at work there; try again when it is done
backup-unwritable = { $file }: the backup could not be written ({ $why }); make room, or name another place
backup-keep-where = --keep goes with a folder of backups, and takes a number from 1

## Reading a backup

backup-foreign = { $file }: is no backup made by triagebot
backup-newer-form = { $file }: was made by a newer triagebot; upgrade triagebot first
backup-newer =
    { $file }: was made by a newer triagebot; upgrade triagebot first (its database is at revision { $schema }, this
    triagebot knows up to { $newest })
backup-damaged = { $file }: is damaged, so nothing was restored; take another backup
backup-cut-short = { $file }: is cut short, so nothing was restored; take another backup

## Restoring

restore-not-empty =
    { $folder }: holds something, and nothing is restored over it; stop the bot and move the folder away, or name
    an empty one with --data
restore-no-key =
    { $key_file }: there is no key file; { $file } needs the one that holds the key { $key }. Put your copy there
restore-other-key =
    { $key_file }: holds the keys { $held }, and { $file } needs the key { $key }. Put the key file of that time there,
    or name it (TRIAGEBOT_KEY_FILE)
restore-refused = { $place }: could not be used ({ $why }); nothing was restored
restore-well = { $file }: whole, made on { $made_at }; cases: { $cases }; the key that opens it is { $key }
restore-done = { $folder }: restored as it was on { $made_at }; cases: { $cases }
restore-migrated = its database was brought up to date from revision { $schema }
restore-set-aside =
    { $count ->
        [one] One message was still to be sent then, and may have gone out since. It was set aside: triagebot letters
       *[other] { $count } messages were still to be sent then, and may have gone out since. They were set aside: triagebot letters
    }
restore-after =
    What was said after that moment is not in it. Whoever asked to be forgotten since must be forgotten again.
