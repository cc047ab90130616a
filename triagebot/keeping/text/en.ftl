### What the person who runs the bot reads about backups, the doctor and letters that were set aside.
### What is so first, then what to do about it.

## Backups

backup-taken = { $file }: { $size }, checked. The key that opens it is { $key }; keep a copy of the key file elsewhere.
backup-dropped = { $file }: an older backup, deleted
backup-elsewhere =
    your cases are in PostgreSQL (TRIAGEBOT_DATABASE), and this backup is of the data folder alone; have the server back
    up its database, with pg_dump, and copy the data folder and the key file beside it
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
    What was said after that moment is not in it.
restore-forgotten = people and cases that were deleted since then, and deleted again: { $count }

## Moving from one database to another

move-which =
    name one database of each kind: sqlite is the file in the data folder, and an address like
    postgresql://triagebot@db.example.org/triagebot is the other
move-carried = { $table }: { $count } carried so far
move-done = { $table }: { $count } carried
move-compared = { $table }: { $count } compared, and the same
move-all = all is in { $place }: { $count } rows, each of them compared
move-there =
    Now set TRIAGEBOT_DATABASE to that address, and start triagebot. What you had is in { $left }. Delete it when you are
    content: it still holds people who ask to be forgotten from now on.
move-back =
    Now take the setting TRIAGEBOT_DATABASE away, and start triagebot. { $left } is marked as moved. Drop that
    database when you are content: it still holds people who ask to be forgotten from now on.

## Letters that were set aside

letters-none = nothing was set aside
letters-row = { $id }  { $at }  { $channel }  { $reason }
letters-unknown = { $ids }: no letter of that name was set aside; triagebot letters lists them
letters-again = { $count } once more; the bot takes them within seconds, or when it is started
letters-dropped = { $count } deleted
letters-no-data = no cases are kept in { $folder }; name another data folder with --data

## What was kept long enough

tidy-row = { $kind }: { $count } (kept for { $days } days)
tidy-would = Nothing was deleted: without --dry-run, these are.
tidy-deleted = deleted; it leaves the server's disk when PostgreSQL next runs VACUUM
tidy-done = deleted, and overwritten in the files
tidy-log-held =
    Deleted. Copies are still in the database's log, since another program is reading it; the bot tries again every few
    seconds, and so does this command when it is run again.

## The doctor

doctor-well = well
doctor-to-mend = TO MEND
doctor-all-well = All is well.
doctor-mend-count =
    { $count ->
        [one] One thing to mend.
       *[other] { $count } things to mend.
    }
doctor-settings = can be read
doctor-no-folder = { $folder } is not there yet; it is made at the first start
doctor-no-database = there is none yet; it is made at the first start
doctor-open-to-others = { $path } has the mode { $mode }, so others can get at it; take that right away: chmod { $right } { $path }
doctor-private = nobody but the owner can get at the data
doctor-clock = { $at } cannot be right; set the clock of this machine
doctor-clock-off = this machine’s clock is { $seconds } seconds off that of { $server }; set it, or let it be set from the network
doctor-clock-like = like that of { $server }
doctor-platform-odd = what a server in the settings answers cannot be read ({ $place }); is its address right?
doctor-disk = { $free } MB free
doctor-disk-full = { $free } MB free, and a backup may need { $needed } MB; make room on that disk
doctor-key = can be read, by its owner alone; it holds { $keys }
doctor-key-folder = who is forgotten can be written down in { $file }
doctor-key-folder-read-only = { $file } cannot be written, so a backup could bring back people who were forgotten; let the user that runs triagebot write there
doctor-opens = opens what is stored
doctor-answers = answers, { $size } MB
doctor-whole = whole, { $size } MB
doctor-version = revision { $held }, the one of this triagebot
doctor-version-older = revision { $held }; it is brought up to { $newest } at the next start, so make a backup first
doctor-version-newer = revision { $held }, made by a newer triagebot (this one knows up to { $newest }); upgrade triagebot
doctor-aside = { $channel }: { $count } that came in were set aside; see why with: triagebot letters
doctor-unsent = { $channel }: { $count } were never sent; see why with: triagebot letters
doctor-stuck-in = { $channel }: { $count } that came in wait for an answer too long; is triagebot serve running? Start it again
doctor-stuck-out = { $channel }: { $count } wait too long to be sent; is triagebot serve running, and the platform reached?
doctor-messages = none is set aside, none is stuck
doctor-overdue = { $count } put off by staff were due long ago; is triagebot serve running? Start it again
doctor-notes = none is overdue

## While it runs: /health and /ready

watch-data = the database is where it was opened
watch-data-gone =
    the database is not where it was opened: the data folder was moved or deleted. Put it back, or start the bot again
    with the folder’s new place
watch-writer = the writer is at work
watch-writer-gone = the thread that writes has ended; start the bot again
watch-database = can be written
watch-database-slow = nothing could be written within { $seconds } seconds; look at the load of this machine and at its disk
watch-platform = answered { $seconds } seconds ago
watch-platform-never = has not answered yet; the log says why
watch-platform-away = last answered { $seconds } seconds ago; the log says why
watch-backlog = { $count } waiting
watch-backlog-long = { $count } waiting, and { $most } may be; look at what is sent slowly, and at the log
