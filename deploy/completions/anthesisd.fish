# Print an optspec for argparse to handle cmd's options that are independent of any subcommand.
function __fish_anthesisd_global_optspecs
    string join \n config= h/help V/version
end

function __fish_anthesisd_needs_command
    # Figure out if the current invocation already has a command.
    set -l cmd (commandline -opc)
    set -e cmd[1]
    argparse -s (__fish_anthesisd_global_optspecs) -- $cmd 2>/dev/null
    or return
    if set -q argv[1]
        # Also print the command, so this can be used to figure out what it is.
        echo $argv[1]
        return 1
    end
    return 0
end

function __fish_anthesisd_using_subcommand
    set -l cmd (__fish_anthesisd_needs_command)
    test -z "$cmd"
    and return 1
    contains -- $cmd[1] $argv
end

complete -c anthesisd -n "__fish_anthesisd_needs_command" -l config -d 'The configuration file' -r -F
complete -c anthesisd -n "__fish_anthesisd_needs_command" -s h -l help -d 'Print help'
complete -c anthesisd -n "__fish_anthesisd_needs_command" -s V -l version -d 'Print version'
complete -c anthesisd -n "__fish_anthesisd_needs_command" -f -a "page-password" -d 'Reads a password and writes its hash, for the file that `[page] password_file` names'
complete -c anthesisd -n "__fish_anthesisd_needs_command" -f -a "run" -d 'The service, in the foreground, until SIGTERM or SIGINT'
complete -c anthesisd -n "__fish_anthesisd_needs_command" -f -a "status" -d 'How the house is, on one screen: alarms, benches, lines, broker, store; exits 0 only if nothing stands and nothing is wrong'
complete -c anthesisd -n "__fish_anthesisd_needs_command" -f -a "check" -d 'Reads the configuration and tries intakes, store, broker, database and page; a line each'
complete -c anthesisd -n "__fish_anthesisd_needs_command" -f -a "replay" -d 'Runs recordings through the same code as the service and writes the events to standard output'
complete -c anthesisd -n "__fish_anthesisd_needs_command" -f -a "import" -d 'Puts recordings and tables into the record'
complete -c anthesisd -n "__fish_anthesisd_needs_command" -f -a "export" -d 'Writes the record of a bench to standard output, as a recording or a table'
complete -c anthesisd -n "__fish_anthesisd_needs_command" -f -a "review" -d 'Writes the record of a bloom, or of a span of days, as one HTML file'
complete -c anthesisd -n "__fish_anthesisd_needs_command" -f -a "backup" -d 'Copies the record into a new file, while the service runs or not'
complete -c anthesisd -n "__fish_anthesisd_needs_command" -f -a "restore" -d 'Puts a backup in the place of the record, which is kept under another name; the service must be stopped'
complete -c anthesisd -n "__fish_anthesisd_needs_command" -f -a "tape" -d 'Records a height that you taped, and says how it fits; or takes one back'
complete -c anthesisd -n "__fish_anthesisd_needs_command" -f -a "sign" -d 'Records a sign that you saw, or a thing that you did'
complete -c anthesisd -n "__fish_anthesisd_needs_command" -f -a "plant" -d 'Plants: origin, parents, weighings, repottings, dormancy'
complete -c anthesisd -n "__fish_anthesisd_needs_command" -f -a "pollen" -d 'The pollen bank: lots collected or received, where they are kept, thaws, tests'
complete -c anthesisd -n "__fish_anthesisd_needs_command" -f -a "cross" -d 'Pollinations, and the crosses they make; says how the two plants are related first'
complete -c anthesisd -n "__fish_anthesisd_needs_command" -f -a "fruit" -d 'Fruit of a cross: set, colour, losses, harvest, seed, sowing, seedlings'
complete -c anthesisd -n "__fish_anthesisd_needs_command" -f -a "tonight" -d 'The sheet for bloom night: windows, pollen that could serve, what to thaw, what to bring, what can hurt'
complete -c anthesisd -n "__fish_anthesisd_needs_command" -f -a "book" -d 'The bloom book as a whole: history, overlaps, blooms compared, calendar, export and import'
complete -c anthesisd -n "__fish_anthesisd_needs_command" -f -a "acknowledge" -d 'Takes note of an alarm, or of all that stand: it is repeated no more'
complete -c anthesisd -n "__fish_anthesisd_needs_command" -f -a "alarm-test" -d 'Tries the alarm command and the broker now, with a message that is marked as a test; says of each whether it was delivered'
complete -c anthesisd -n "__fish_anthesisd_needs_command" -f -a "help" -d 'Print this message or the help of the given subcommand(s)'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand page-password" -l config -d 'The configuration file' -r -F
complete -c anthesisd -n "__fish_anthesisd_using_subcommand page-password" -s h -l help -d 'Print help'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand run" -l config -d 'The configuration file' -r -F
complete -c anthesisd -n "__fish_anthesisd_using_subcommand run" -s h -l help -d 'Print help'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand status" -l config -d 'The configuration file' -r -F
complete -c anthesisd -n "__fish_anthesisd_using_subcommand status" -l json -d 'Results as JSON; alarms and benches are those of the page\'s /api/house'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand status" -s h -l help -d 'Print help'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand check" -l config -d 'The configuration file' -r -F
complete -c anthesisd -n "__fish_anthesisd_using_subcommand check" -s h -l help -d 'Print help'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand replay" -l config -d 'The configuration file' -r -F
complete -c anthesisd -n "__fish_anthesisd_using_subcommand replay" -l service -d 'What the whole service would have told: also a line that is dead, tests of whether people are reached, and repeats'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand replay" -s h -l help -d 'Print help'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand import" -l bench -d 'The bench of a table without a column for it' -r
complete -c anthesisd -n "__fish_anthesisd_using_subcommand import" -l config -d 'The configuration file' -r -F
complete -c anthesisd -n "__fish_anthesisd_using_subcommand import" -l dry-run -d 'Reads the files and says what would be taken and what refused; records nothing'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand import" -s h -l help -d 'Print help'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand export" -l from -d 'From this time on: 2027-05-30, yesterday 18:00' -r
complete -c anthesisd -n "__fish_anthesisd_using_subcommand export" -l to -d 'Up to this time' -r
complete -c anthesisd -n "__fish_anthesisd_using_subcommand export" -l quantity -d 'Only this quantity (or `sign`); give it again for more' -r
complete -c anthesisd -n "__fish_anthesisd_using_subcommand export" -l config -d 'The configuration file' -r -F
complete -c anthesisd -n "__fish_anthesisd_using_subcommand export" -l csv -d 'A table (RFC 4180, units in its header) instead of a recording'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand export" -s h -l help -d 'Print help'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand review" -l from -d 'From this time on: 2027-05-30, yesterday 18:00' -r
complete -c anthesisd -n "__fish_anthesisd_using_subcommand review" -l to -d 'Up to this time' -r
complete -c anthesisd -n "__fish_anthesisd_using_subcommand review" -l compare -d 'Lay an earlier bloom over it, aligned on opening: its id, or the time at which it opened' -r
complete -c anthesisd -n "__fish_anthesisd_using_subcommand review" -l output -d 'The file to write; - is standard output. A page goes to a file named after the bloom unless told otherwise' -r -F
complete -c anthesisd -n "__fish_anthesisd_using_subcommand review" -l config -d 'The configuration file' -r -F
complete -c anthesisd -n "__fish_anthesisd_using_subcommand review" -l csv -d 'Write every figure for a spreadsheet instead of the page'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand review" -l summary -d 'Print the figures on the terminal instead'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand review" -s h -l help -d 'Print help'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand backup" -l config -d 'The configuration file' -r -F
complete -c anthesisd -n "__fish_anthesisd_using_subcommand backup" -s h -l help -d 'Print help'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand restore" -l config -d 'The configuration file' -r -F
complete -c anthesisd -n "__fish_anthesisd_using_subcommand restore" -s h -l help -d 'Print help'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand tape" -l at -d 'When: 21:40, 4:40 pm, 20 minutes ago, yesterday 18:00, last night, Tue 18:00, 2027-05-30 08:10; now if left out' -r
complete -c anthesisd -n "__fish_anthesisd_using_subcommand tape" -l note -d 'Anything to add' -r
complete -c anthesisd -n "__fish_anthesisd_using_subcommand tape" -l by -d 'Who' -r
complete -c anthesisd -n "__fish_anthesisd_using_subcommand tape" -l config -d 'The configuration file' -r -F
complete -c anthesisd -n "__fish_anthesisd_using_subcommand tape" -l withdraw -d 'Takes back the height taped at the time of --at, the newest if that is left out; it stays in the record, marked'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand tape" -l anyway -d 'Records a height that cannot be, by the ranger or by what was taped before'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand tape" -s h -l help -d 'Print help'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand sign" -l tip -d 'With mount-moved: the new distance from the overhead ranger down to the datum: 3.1 (metres), 310cm, "10 ft 2 in"' -r
complete -c anthesisd -n "__fish_anthesisd_using_subcommand sign" -l rim -d 'With mount-moved: the new distance from the side ranger to the spathe edge: 0.95 (metres), 95cm' -r
complete -c anthesisd -n "__fish_anthesisd_using_subcommand sign" -l at -d 'When: 21:40, 4:40 pm, 20 minutes ago, yesterday 18:00, last night, Tue 18:00, 2027-05-30 08:10; now if left out' -r
complete -c anthesisd -n "__fish_anthesisd_using_subcommand sign" -l note -d 'Anything to add' -r
complete -c anthesisd -n "__fish_anthesisd_using_subcommand sign" -l by -d 'Who' -r
complete -c anthesisd -n "__fish_anthesisd_using_subcommand sign" -l config -d 'The configuration file' -r -F
complete -c anthesisd -n "__fish_anthesisd_using_subcommand sign" -l withdraw -d 'Takes back a sign recorded for that time'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand sign" -s h -l help -d 'Print help'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand plant; and not __fish_seen_subcommand_from add weighed repotted dormant in-leaf gone help" -l at -d 'When: 21:40, 4:40 pm, 20 minutes ago, yesterday 18:00, last night, Tue 18:00, 2027-05-30 08:10; now if left out' -r
complete -c anthesisd -n "__fish_anthesisd_using_subcommand plant; and not __fish_seen_subcommand_from add weighed repotted dormant in-leaf gone help" -l note -d 'Anything to add' -r
complete -c anthesisd -n "__fish_anthesisd_using_subcommand plant; and not __fish_seen_subcommand_from add weighed repotted dormant in-leaf gone help" -l by -d 'Who' -r
complete -c anthesisd -n "__fish_anthesisd_using_subcommand plant; and not __fish_seen_subcommand_from add weighed repotted dormant in-leaf gone help" -l corrects -d 'Puts this in place of an entry of that number; what is not said anew stays as it was' -r
complete -c anthesisd -n "__fish_anthesisd_using_subcommand plant; and not __fish_seen_subcommand_from add weighed repotted dormant in-leaf gone help" -l config -d 'The configuration file' -r -F
complete -c anthesisd -n "__fish_anthesisd_using_subcommand plant; and not __fish_seen_subcommand_from add weighed repotted dormant in-leaf gone help" -l json -d 'Results as JSON'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand plant; and not __fish_seen_subcommand_from add weighed repotted dormant in-leaf gone help" -s h -l help -d 'Print help'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand plant; and not __fish_seen_subcommand_from add weighed repotted dormant in-leaf gone help" -a "add" -d 'Takes up a plant into the book'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand plant; and not __fish_seen_subcommand_from add weighed repotted dormant in-leaf gone help" -a "weighed" -d 'The corm was weighed'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand plant; and not __fish_seen_subcommand_from add weighed repotted dormant in-leaf gone help" -a "repotted" -d 'It was repotted'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand plant; and not __fish_seen_subcommand_from add weighed repotted dormant in-leaf gone help" -a "dormant" -d 'The leaf is down: dormancy begins'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand plant; and not __fish_seen_subcommand_from add weighed repotted dormant in-leaf gone help" -a "in-leaf" -d 'A leaf is up: dormancy ends'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand plant; and not __fish_seen_subcommand_from add weighed repotted dormant in-leaf gone help" -a "gone" -d 'It died or left the house'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand plant; and not __fish_seen_subcommand_from add weighed repotted dormant in-leaf gone help" -a "help" -d 'Print this message or the help of the given subcommand(s)'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand plant; and __fish_seen_subcommand_from add" -l taxon -d 'Scientific name' -r
complete -c anthesisd -n "__fish_anthesisd_using_subcommand plant; and __fish_seen_subcommand_from add" -l mother -d 'Seed parent' -r
complete -c anthesisd -n "__fish_anthesisd_using_subcommand plant; and __fish_seen_subcommand_from add" -l father -d 'Pollen parent' -r
complete -c anthesisd -n "__fish_anthesisd_using_subcommand plant; and __fish_seen_subcommand_from add" -l seed-of -d 'The cross of this book whose seed it grew from' -r
complete -c anthesisd -n "__fish_anthesisd_using_subcommand plant; and __fish_seen_subcommand_from add" -l offset-of -d 'The plant that it is an offset or a cutting of' -r
complete -c anthesisd -n "__fish_anthesisd_using_subcommand plant; and __fish_seen_subcommand_from add" -l clone -d 'The clone it belongs to' -r
complete -c anthesisd -n "__fish_anthesisd_using_subcommand plant; and __fish_seen_subcommand_from add" -l sibs -d 'The sib group it belongs to, where the parents are not known' -r
complete -c anthesisd -n "__fish_anthesisd_using_subcommand plant; and __fish_seen_subcommand_from add" -l from -d 'Where it came from' -r
complete -c anthesisd -n "__fish_anthesisd_using_subcommand plant; and __fish_seen_subcommand_from add" -l at -d 'When: 21:40, 4:40 pm, 20 minutes ago, yesterday 18:00, last night, Tue 18:00, 2027-05-30 08:10; now if left out' -r
complete -c anthesisd -n "__fish_anthesisd_using_subcommand plant; and __fish_seen_subcommand_from add" -l note -d 'Anything to add' -r
complete -c anthesisd -n "__fish_anthesisd_using_subcommand plant; and __fish_seen_subcommand_from add" -l by -d 'Who' -r
complete -c anthesisd -n "__fish_anthesisd_using_subcommand plant; and __fish_seen_subcommand_from add" -l corrects -d 'Puts this in place of an entry of that number; what is not said anew stays as it was' -r
complete -c anthesisd -n "__fish_anthesisd_using_subcommand plant; and __fish_seen_subcommand_from add" -l config -d 'The configuration file' -r -F
complete -c anthesisd -n "__fish_anthesisd_using_subcommand plant; and __fish_seen_subcommand_from add" -l json -d 'Results as JSON'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand plant; and __fish_seen_subcommand_from add" -s h -l help -d 'Print help'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand plant; and __fish_seen_subcommand_from weighed" -l at -d 'When: 21:40, 4:40 pm, 20 minutes ago, yesterday 18:00, last night, Tue 18:00, 2027-05-30 08:10; now if left out' -r
complete -c anthesisd -n "__fish_anthesisd_using_subcommand plant; and __fish_seen_subcommand_from weighed" -l note -d 'Anything to add' -r
complete -c anthesisd -n "__fish_anthesisd_using_subcommand plant; and __fish_seen_subcommand_from weighed" -l by -d 'Who' -r
complete -c anthesisd -n "__fish_anthesisd_using_subcommand plant; and __fish_seen_subcommand_from weighed" -l corrects -d 'Puts this in place of an entry of that number; what is not said anew stays as it was' -r
complete -c anthesisd -n "__fish_anthesisd_using_subcommand plant; and __fish_seen_subcommand_from weighed" -l config -d 'The configuration file' -r -F
complete -c anthesisd -n "__fish_anthesisd_using_subcommand plant; and __fish_seen_subcommand_from weighed" -l json -d 'Results as JSON'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand plant; and __fish_seen_subcommand_from weighed" -s h -l help -d 'Print help'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand plant; and __fish_seen_subcommand_from repotted" -l pot -d 'Volume of the pot, litres' -r
complete -c anthesisd -n "__fish_anthesisd_using_subcommand plant; and __fish_seen_subcommand_from repotted" -l mix -d 'The mix' -r
complete -c anthesisd -n "__fish_anthesisd_using_subcommand plant; and __fish_seen_subcommand_from repotted" -l at -d 'When: 21:40, 4:40 pm, 20 minutes ago, yesterday 18:00, last night, Tue 18:00, 2027-05-30 08:10; now if left out' -r
complete -c anthesisd -n "__fish_anthesisd_using_subcommand plant; and __fish_seen_subcommand_from repotted" -l note -d 'Anything to add' -r
complete -c anthesisd -n "__fish_anthesisd_using_subcommand plant; and __fish_seen_subcommand_from repotted" -l by -d 'Who' -r
complete -c anthesisd -n "__fish_anthesisd_using_subcommand plant; and __fish_seen_subcommand_from repotted" -l corrects -d 'Puts this in place of an entry of that number; what is not said anew stays as it was' -r
complete -c anthesisd -n "__fish_anthesisd_using_subcommand plant; and __fish_seen_subcommand_from repotted" -l config -d 'The configuration file' -r -F
complete -c anthesisd -n "__fish_anthesisd_using_subcommand plant; and __fish_seen_subcommand_from repotted" -l json -d 'Results as JSON'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand plant; and __fish_seen_subcommand_from repotted" -s h -l help -d 'Print help'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand plant; and __fish_seen_subcommand_from dormant" -l at -d 'When: 21:40, 4:40 pm, 20 minutes ago, yesterday 18:00, last night, Tue 18:00, 2027-05-30 08:10; now if left out' -r
complete -c anthesisd -n "__fish_anthesisd_using_subcommand plant; and __fish_seen_subcommand_from dormant" -l note -d 'Anything to add' -r
complete -c anthesisd -n "__fish_anthesisd_using_subcommand plant; and __fish_seen_subcommand_from dormant" -l by -d 'Who' -r
complete -c anthesisd -n "__fish_anthesisd_using_subcommand plant; and __fish_seen_subcommand_from dormant" -l corrects -d 'Puts this in place of an entry of that number; what is not said anew stays as it was' -r
complete -c anthesisd -n "__fish_anthesisd_using_subcommand plant; and __fish_seen_subcommand_from dormant" -l config -d 'The configuration file' -r -F
complete -c anthesisd -n "__fish_anthesisd_using_subcommand plant; and __fish_seen_subcommand_from dormant" -l json -d 'Results as JSON'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand plant; and __fish_seen_subcommand_from dormant" -s h -l help -d 'Print help'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand plant; and __fish_seen_subcommand_from in-leaf" -l at -d 'When: 21:40, 4:40 pm, 20 minutes ago, yesterday 18:00, last night, Tue 18:00, 2027-05-30 08:10; now if left out' -r
complete -c anthesisd -n "__fish_anthesisd_using_subcommand plant; and __fish_seen_subcommand_from in-leaf" -l note -d 'Anything to add' -r
complete -c anthesisd -n "__fish_anthesisd_using_subcommand plant; and __fish_seen_subcommand_from in-leaf" -l by -d 'Who' -r
complete -c anthesisd -n "__fish_anthesisd_using_subcommand plant; and __fish_seen_subcommand_from in-leaf" -l corrects -d 'Puts this in place of an entry of that number; what is not said anew stays as it was' -r
complete -c anthesisd -n "__fish_anthesisd_using_subcommand plant; and __fish_seen_subcommand_from in-leaf" -l config -d 'The configuration file' -r -F
complete -c anthesisd -n "__fish_anthesisd_using_subcommand plant; and __fish_seen_subcommand_from in-leaf" -l json -d 'Results as JSON'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand plant; and __fish_seen_subcommand_from in-leaf" -s h -l help -d 'Print help'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand plant; and __fish_seen_subcommand_from gone" -l at -d 'When: 21:40, 4:40 pm, 20 minutes ago, yesterday 18:00, last night, Tue 18:00, 2027-05-30 08:10; now if left out' -r
complete -c anthesisd -n "__fish_anthesisd_using_subcommand plant; and __fish_seen_subcommand_from gone" -l note -d 'Anything to add' -r
complete -c anthesisd -n "__fish_anthesisd_using_subcommand plant; and __fish_seen_subcommand_from gone" -l by -d 'Who' -r
complete -c anthesisd -n "__fish_anthesisd_using_subcommand plant; and __fish_seen_subcommand_from gone" -l corrects -d 'Puts this in place of an entry of that number; what is not said anew stays as it was' -r
complete -c anthesisd -n "__fish_anthesisd_using_subcommand plant; and __fish_seen_subcommand_from gone" -l config -d 'The configuration file' -r -F
complete -c anthesisd -n "__fish_anthesisd_using_subcommand plant; and __fish_seen_subcommand_from gone" -l json -d 'Results as JSON'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand plant; and __fish_seen_subcommand_from gone" -s h -l help -d 'Print help'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand plant; and __fish_seen_subcommand_from help" -f -a "add" -d 'Takes up a plant into the book'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand plant; and __fish_seen_subcommand_from help" -f -a "weighed" -d 'The corm was weighed'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand plant; and __fish_seen_subcommand_from help" -f -a "repotted" -d 'It was repotted'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand plant; and __fish_seen_subcommand_from help" -f -a "dormant" -d 'The leaf is down: dormancy begins'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand plant; and __fish_seen_subcommand_from help" -f -a "in-leaf" -d 'A leaf is up: dormancy ends'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand plant; and __fish_seen_subcommand_from help" -f -a "gone" -d 'It died or left the house'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand plant; and __fish_seen_subcommand_from help" -f -a "help" -d 'Print this message or the help of the given subcommand(s)'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand pollen; and not __fish_seen_subcommand_from collected received stored thawed tested discarded help" -l at -d 'When: 21:40, 4:40 pm, 20 minutes ago, yesterday 18:00, last night, Tue 18:00, 2027-05-30 08:10; now if left out' -r
complete -c anthesisd -n "__fish_anthesisd_using_subcommand pollen; and not __fish_seen_subcommand_from collected received stored thawed tested discarded help" -l note -d 'Anything to add' -r
complete -c anthesisd -n "__fish_anthesisd_using_subcommand pollen; and not __fish_seen_subcommand_from collected received stored thawed tested discarded help" -l by -d 'Who' -r
complete -c anthesisd -n "__fish_anthesisd_using_subcommand pollen; and not __fish_seen_subcommand_from collected received stored thawed tested discarded help" -l corrects -d 'Puts this in place of an entry of that number; what is not said anew stays as it was' -r
complete -c anthesisd -n "__fish_anthesisd_using_subcommand pollen; and not __fish_seen_subcommand_from collected received stored thawed tested discarded help" -l config -d 'The configuration file' -r -F
complete -c anthesisd -n "__fish_anthesisd_using_subcommand pollen; and not __fish_seen_subcommand_from collected received stored thawed tested discarded help" -l json -d 'Results as JSON'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand pollen; and not __fish_seen_subcommand_from collected received stored thawed tested discarded help" -s h -l help -d 'Print help'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand pollen; and not __fish_seen_subcommand_from collected received stored thawed tested discarded help" -a "collected" -d 'Pollen was collected from a plant of the house: makes a new lot'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand pollen; and not __fish_seen_subcommand_from collected received stored thawed tested discarded help" -a "received" -d 'Pollen of a plant came from elsewhere: makes a new lot'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand pollen; and not __fish_seen_subcommand_from collected received stored thawed tested discarded help" -a "stored" -d 'The lot is kept there from now on'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand pollen; and not __fish_seen_subcommand_from collected received stored thawed tested discarded help" -a "thawed" -d 'Portions were thawed or taken out'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand pollen; and not __fish_seen_subcommand_from collected received stored thawed tested discarded help" -a "tested" -d 'A germination test was done'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand pollen; and not __fish_seen_subcommand_from collected received stored thawed tested discarded help" -a "discarded" -d 'What is left was thrown away'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand pollen; and not __fish_seen_subcommand_from collected received stored thawed tested discarded help" -a "help" -d 'Print this message or the help of the given subcommand(s)'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand pollen; and __fish_seen_subcommand_from collected" -l dried -d 'How it was dried; left out, it is fresh' -r
complete -c anthesisd -n "__fish_anthesisd_using_subcommand pollen; and __fish_seen_subcommand_from collected" -l stored -d 'Temperature at which it is kept from now on: -80 (°C), -112F' -r
complete -c anthesisd -n "__fish_anthesisd_using_subcommand pollen; and __fish_seen_subcommand_from collected" -l place -d 'Where it is kept' -r
complete -c anthesisd -n "__fish_anthesisd_using_subcommand pollen; and __fish_seen_subcommand_from collected" -l at -d 'When: 21:40, 4:40 pm, 20 minutes ago, yesterday 18:00, last night, Tue 18:00, 2027-05-30 08:10; now if left out' -r
complete -c anthesisd -n "__fish_anthesisd_using_subcommand pollen; and __fish_seen_subcommand_from collected" -l note -d 'Anything to add' -r
complete -c anthesisd -n "__fish_anthesisd_using_subcommand pollen; and __fish_seen_subcommand_from collected" -l by -d 'Who' -r
complete -c anthesisd -n "__fish_anthesisd_using_subcommand pollen; and __fish_seen_subcommand_from collected" -l corrects -d 'Puts this in place of an entry of that number; what is not said anew stays as it was' -r
complete -c anthesisd -n "__fish_anthesisd_using_subcommand pollen; and __fish_seen_subcommand_from collected" -l config -d 'The configuration file' -r -F
complete -c anthesisd -n "__fish_anthesisd_using_subcommand pollen; and __fish_seen_subcommand_from collected" -l json -d 'Results as JSON'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand pollen; and __fish_seen_subcommand_from collected" -s h -l help -d 'Print help'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand pollen; and __fish_seen_subcommand_from received" -l dried -d 'How it was dried; left out, it is fresh' -r
complete -c anthesisd -n "__fish_anthesisd_using_subcommand pollen; and __fish_seen_subcommand_from received" -l stored -d 'Temperature at which it is kept from now on: -80 (°C), -112F' -r
complete -c anthesisd -n "__fish_anthesisd_using_subcommand pollen; and __fish_seen_subcommand_from received" -l place -d 'Where it is kept' -r
complete -c anthesisd -n "__fish_anthesisd_using_subcommand pollen; and __fish_seen_subcommand_from received" -l collected -d 'When it was collected there; a lot whose age is not known counts from its arrival' -r
complete -c anthesisd -n "__fish_anthesisd_using_subcommand pollen; and __fish_seen_subcommand_from received" -l at -d 'When: 21:40, 4:40 pm, 20 minutes ago, yesterday 18:00, last night, Tue 18:00, 2027-05-30 08:10; now if left out' -r
complete -c anthesisd -n "__fish_anthesisd_using_subcommand pollen; and __fish_seen_subcommand_from received" -l note -d 'Anything to add' -r
complete -c anthesisd -n "__fish_anthesisd_using_subcommand pollen; and __fish_seen_subcommand_from received" -l by -d 'Who' -r
complete -c anthesisd -n "__fish_anthesisd_using_subcommand pollen; and __fish_seen_subcommand_from received" -l corrects -d 'Puts this in place of an entry of that number; what is not said anew stays as it was' -r
complete -c anthesisd -n "__fish_anthesisd_using_subcommand pollen; and __fish_seen_subcommand_from received" -l config -d 'The configuration file' -r -F
complete -c anthesisd -n "__fish_anthesisd_using_subcommand pollen; and __fish_seen_subcommand_from received" -l json -d 'Results as JSON'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand pollen; and __fish_seen_subcommand_from received" -s h -l help -d 'Print help'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand pollen; and __fish_seen_subcommand_from stored" -l place -d 'Where' -r
complete -c anthesisd -n "__fish_anthesisd_using_subcommand pollen; and __fish_seen_subcommand_from stored" -l at -d 'When: 21:40, 4:40 pm, 20 minutes ago, yesterday 18:00, last night, Tue 18:00, 2027-05-30 08:10; now if left out' -r
complete -c anthesisd -n "__fish_anthesisd_using_subcommand pollen; and __fish_seen_subcommand_from stored" -l note -d 'Anything to add' -r
complete -c anthesisd -n "__fish_anthesisd_using_subcommand pollen; and __fish_seen_subcommand_from stored" -l by -d 'Who' -r
complete -c anthesisd -n "__fish_anthesisd_using_subcommand pollen; and __fish_seen_subcommand_from stored" -l corrects -d 'Puts this in place of an entry of that number; what is not said anew stays as it was' -r
complete -c anthesisd -n "__fish_anthesisd_using_subcommand pollen; and __fish_seen_subcommand_from stored" -l config -d 'The configuration file' -r -F
complete -c anthesisd -n "__fish_anthesisd_using_subcommand pollen; and __fish_seen_subcommand_from stored" -l json -d 'Results as JSON'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand pollen; and __fish_seen_subcommand_from stored" -s h -l help -d 'Print help'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand pollen; and __fish_seen_subcommand_from thawed" -l at -d 'When: 21:40, 4:40 pm, 20 minutes ago, yesterday 18:00, last night, Tue 18:00, 2027-05-30 08:10; now if left out' -r
complete -c anthesisd -n "__fish_anthesisd_using_subcommand pollen; and __fish_seen_subcommand_from thawed" -l note -d 'Anything to add' -r
complete -c anthesisd -n "__fish_anthesisd_using_subcommand pollen; and __fish_seen_subcommand_from thawed" -l by -d 'Who' -r
complete -c anthesisd -n "__fish_anthesisd_using_subcommand pollen; and __fish_seen_subcommand_from thawed" -l corrects -d 'Puts this in place of an entry of that number; what is not said anew stays as it was' -r
complete -c anthesisd -n "__fish_anthesisd_using_subcommand pollen; and __fish_seen_subcommand_from thawed" -l config -d 'The configuration file' -r -F
complete -c anthesisd -n "__fish_anthesisd_using_subcommand pollen; and __fish_seen_subcommand_from thawed" -l json -d 'Results as JSON'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand pollen; and __fish_seen_subcommand_from thawed" -s h -l help -d 'Print help'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand pollen; and __fish_seen_subcommand_from tested" -l at -d 'When: 21:40, 4:40 pm, 20 minutes ago, yesterday 18:00, last night, Tue 18:00, 2027-05-30 08:10; now if left out' -r
complete -c anthesisd -n "__fish_anthesisd_using_subcommand pollen; and __fish_seen_subcommand_from tested" -l note -d 'Anything to add' -r
complete -c anthesisd -n "__fish_anthesisd_using_subcommand pollen; and __fish_seen_subcommand_from tested" -l by -d 'Who' -r
complete -c anthesisd -n "__fish_anthesisd_using_subcommand pollen; and __fish_seen_subcommand_from tested" -l corrects -d 'Puts this in place of an entry of that number; what is not said anew stays as it was' -r
complete -c anthesisd -n "__fish_anthesisd_using_subcommand pollen; and __fish_seen_subcommand_from tested" -l config -d 'The configuration file' -r -F
complete -c anthesisd -n "__fish_anthesisd_using_subcommand pollen; and __fish_seen_subcommand_from tested" -l json -d 'Results as JSON'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand pollen; and __fish_seen_subcommand_from tested" -s h -l help -d 'Print help'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand pollen; and __fish_seen_subcommand_from discarded" -l at -d 'When: 21:40, 4:40 pm, 20 minutes ago, yesterday 18:00, last night, Tue 18:00, 2027-05-30 08:10; now if left out' -r
complete -c anthesisd -n "__fish_anthesisd_using_subcommand pollen; and __fish_seen_subcommand_from discarded" -l note -d 'Anything to add' -r
complete -c anthesisd -n "__fish_anthesisd_using_subcommand pollen; and __fish_seen_subcommand_from discarded" -l by -d 'Who' -r
complete -c anthesisd -n "__fish_anthesisd_using_subcommand pollen; and __fish_seen_subcommand_from discarded" -l corrects -d 'Puts this in place of an entry of that number; what is not said anew stays as it was' -r
complete -c anthesisd -n "__fish_anthesisd_using_subcommand pollen; and __fish_seen_subcommand_from discarded" -l config -d 'The configuration file' -r -F
complete -c anthesisd -n "__fish_anthesisd_using_subcommand pollen; and __fish_seen_subcommand_from discarded" -l json -d 'Results as JSON'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand pollen; and __fish_seen_subcommand_from discarded" -s h -l help -d 'Print help'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand pollen; and __fish_seen_subcommand_from help" -f -a "collected" -d 'Pollen was collected from a plant of the house: makes a new lot'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand pollen; and __fish_seen_subcommand_from help" -f -a "received" -d 'Pollen of a plant came from elsewhere: makes a new lot'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand pollen; and __fish_seen_subcommand_from help" -f -a "stored" -d 'The lot is kept there from now on'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand pollen; and __fish_seen_subcommand_from help" -f -a "thawed" -d 'Portions were thawed or taken out'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand pollen; and __fish_seen_subcommand_from help" -f -a "tested" -d 'A germination test was done'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand pollen; and __fish_seen_subcommand_from help" -f -a "discarded" -d 'What is left was thrown away'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand pollen; and __fish_seen_subcommand_from help" -f -a "help" -d 'Print this message or the help of the given subcommand(s)'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand cross" -l portions -d 'Portions used; one if left out' -r
complete -c anthesisd -n "__fish_anthesisd_using_subcommand cross" -l flowers -d 'Which flowers' -r
complete -c anthesisd -n "__fish_anthesisd_using_subcommand cross" -l access -d 'By which access: a window cut low in the spathe, from above' -r
complete -c anthesisd -n "__fish_anthesisd_using_subcommand cross" -l at -d 'When: 21:40, 4:40 pm, 20 minutes ago, yesterday 18:00, last night, Tue 18:00, 2027-05-30 08:10; now if left out' -r
complete -c anthesisd -n "__fish_anthesisd_using_subcommand cross" -l note -d 'Anything to add' -r
complete -c anthesisd -n "__fish_anthesisd_using_subcommand cross" -l by -d 'Who' -r
complete -c anthesisd -n "__fish_anthesisd_using_subcommand cross" -l corrects -d 'Puts this in place of an entry of that number; what is not said anew stays as it was' -r
complete -c anthesisd -n "__fish_anthesisd_using_subcommand cross" -l config -d 'The configuration file' -r -F
complete -c anthesisd -n "__fish_anthesisd_using_subcommand cross" -l anyway -d 'Books it however close the kin'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand cross" -l json -d 'Results as JSON'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand cross" -s h -l help -d 'Print help'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand fruit; and not __fish_seen_subcommand_from set colour lost ripe harvested seeds sown germinated help" -l at -d 'When: 21:40, 4:40 pm, 20 minutes ago, yesterday 18:00, last night, Tue 18:00, 2027-05-30 08:10; now if left out' -r
complete -c anthesisd -n "__fish_anthesisd_using_subcommand fruit; and not __fish_seen_subcommand_from set colour lost ripe harvested seeds sown germinated help" -l note -d 'Anything to add' -r
complete -c anthesisd -n "__fish_anthesisd_using_subcommand fruit; and not __fish_seen_subcommand_from set colour lost ripe harvested seeds sown germinated help" -l by -d 'Who' -r
complete -c anthesisd -n "__fish_anthesisd_using_subcommand fruit; and not __fish_seen_subcommand_from set colour lost ripe harvested seeds sown germinated help" -l corrects -d 'Puts this in place of an entry of that number; what is not said anew stays as it was' -r
complete -c anthesisd -n "__fish_anthesisd_using_subcommand fruit; and not __fish_seen_subcommand_from set colour lost ripe harvested seeds sown germinated help" -l config -d 'The configuration file' -r -F
complete -c anthesisd -n "__fish_anthesisd_using_subcommand fruit; and not __fish_seen_subcommand_from set colour lost ripe harvested seeds sown germinated help" -l json -d 'Results as JSON'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand fruit; and not __fish_seen_subcommand_from set colour lost ripe harvested seeds sown germinated help" -s h -l help -d 'Print help'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand fruit; and not __fish_seen_subcommand_from set colour lost ripe harvested seeds sown germinated help" -a "set" -d 'Fruit has set'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand fruit; and not __fish_seen_subcommand_from set colour lost ripe harvested seeds sown germinated help" -a "colour" -d 'The colour that the berries have come to'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand fruit; and not __fish_seen_subcommand_from set colour lost ripe harvested seeds sown germinated help" -a "lost" -d 'Berries were lost'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand fruit; and not __fish_seen_subcommand_from set colour lost ripe harvested seeds sown germinated help" -a "ripe" -d 'It is ripe'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand fruit; and not __fish_seen_subcommand_from set colour lost ripe harvested seeds sown germinated help" -a "harvested" -d 'Berries were harvested'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand fruit; and not __fish_seen_subcommand_from set colour lost ripe harvested seeds sown germinated help" -a "seeds" -d 'Seeds, cleaned and counted'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand fruit; and not __fish_seen_subcommand_from set colour lost ripe harvested seeds sown germinated help" -a "sown" -d 'Seeds were sown'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand fruit; and not __fish_seen_subcommand_from set colour lost ripe harvested seeds sown germinated help" -a "germinated" -d 'Seedlings came up since the last count'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand fruit; and not __fish_seen_subcommand_from set colour lost ripe harvested seeds sown germinated help" -a "help" -d 'Print this message or the help of the given subcommand(s)'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand fruit; and __fish_seen_subcommand_from set" -l at -d 'When: 21:40, 4:40 pm, 20 minutes ago, yesterday 18:00, last night, Tue 18:00, 2027-05-30 08:10; now if left out' -r
complete -c anthesisd -n "__fish_anthesisd_using_subcommand fruit; and __fish_seen_subcommand_from set" -l note -d 'Anything to add' -r
complete -c anthesisd -n "__fish_anthesisd_using_subcommand fruit; and __fish_seen_subcommand_from set" -l by -d 'Who' -r
complete -c anthesisd -n "__fish_anthesisd_using_subcommand fruit; and __fish_seen_subcommand_from set" -l corrects -d 'Puts this in place of an entry of that number; what is not said anew stays as it was' -r
complete -c anthesisd -n "__fish_anthesisd_using_subcommand fruit; and __fish_seen_subcommand_from set" -l config -d 'The configuration file' -r -F
complete -c anthesisd -n "__fish_anthesisd_using_subcommand fruit; and __fish_seen_subcommand_from set" -l json -d 'Results as JSON'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand fruit; and __fish_seen_subcommand_from set" -s h -l help -d 'Print help'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand fruit; and __fish_seen_subcommand_from colour" -l part -d 'Where on the spike: they ripen from the top down' -r -f -a "top\t''
middle\t''
bottom\t''
all\t''"
complete -c anthesisd -n "__fish_anthesisd_using_subcommand fruit; and __fish_seen_subcommand_from colour" -l at -d 'When: 21:40, 4:40 pm, 20 minutes ago, yesterday 18:00, last night, Tue 18:00, 2027-05-30 08:10; now if left out' -r
complete -c anthesisd -n "__fish_anthesisd_using_subcommand fruit; and __fish_seen_subcommand_from colour" -l note -d 'Anything to add' -r
complete -c anthesisd -n "__fish_anthesisd_using_subcommand fruit; and __fish_seen_subcommand_from colour" -l by -d 'Who' -r
complete -c anthesisd -n "__fish_anthesisd_using_subcommand fruit; and __fish_seen_subcommand_from colour" -l corrects -d 'Puts this in place of an entry of that number; what is not said anew stays as it was' -r
complete -c anthesisd -n "__fish_anthesisd_using_subcommand fruit; and __fish_seen_subcommand_from colour" -l config -d 'The configuration file' -r -F
complete -c anthesisd -n "__fish_anthesisd_using_subcommand fruit; and __fish_seen_subcommand_from colour" -l json -d 'Results as JSON'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand fruit; and __fish_seen_subcommand_from colour" -s h -l help -d 'Print help'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand fruit; and __fish_seen_subcommand_from lost" -l at -d 'When: 21:40, 4:40 pm, 20 minutes ago, yesterday 18:00, last night, Tue 18:00, 2027-05-30 08:10; now if left out' -r
complete -c anthesisd -n "__fish_anthesisd_using_subcommand fruit; and __fish_seen_subcommand_from lost" -l note -d 'Anything to add' -r
complete -c anthesisd -n "__fish_anthesisd_using_subcommand fruit; and __fish_seen_subcommand_from lost" -l by -d 'Who' -r
complete -c anthesisd -n "__fish_anthesisd_using_subcommand fruit; and __fish_seen_subcommand_from lost" -l corrects -d 'Puts this in place of an entry of that number; what is not said anew stays as it was' -r
complete -c anthesisd -n "__fish_anthesisd_using_subcommand fruit; and __fish_seen_subcommand_from lost" -l config -d 'The configuration file' -r -F
complete -c anthesisd -n "__fish_anthesisd_using_subcommand fruit; and __fish_seen_subcommand_from lost" -l json -d 'Results as JSON'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand fruit; and __fish_seen_subcommand_from lost" -s h -l help -d 'Print help'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand fruit; and __fish_seen_subcommand_from ripe" -l at -d 'When: 21:40, 4:40 pm, 20 minutes ago, yesterday 18:00, last night, Tue 18:00, 2027-05-30 08:10; now if left out' -r
complete -c anthesisd -n "__fish_anthesisd_using_subcommand fruit; and __fish_seen_subcommand_from ripe" -l note -d 'Anything to add' -r
complete -c anthesisd -n "__fish_anthesisd_using_subcommand fruit; and __fish_seen_subcommand_from ripe" -l by -d 'Who' -r
complete -c anthesisd -n "__fish_anthesisd_using_subcommand fruit; and __fish_seen_subcommand_from ripe" -l corrects -d 'Puts this in place of an entry of that number; what is not said anew stays as it was' -r
complete -c anthesisd -n "__fish_anthesisd_using_subcommand fruit; and __fish_seen_subcommand_from ripe" -l config -d 'The configuration file' -r -F
complete -c anthesisd -n "__fish_anthesisd_using_subcommand fruit; and __fish_seen_subcommand_from ripe" -l json -d 'Results as JSON'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand fruit; and __fish_seen_subcommand_from ripe" -s h -l help -d 'Print help'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand fruit; and __fish_seen_subcommand_from harvested" -l at -d 'When: 21:40, 4:40 pm, 20 minutes ago, yesterday 18:00, last night, Tue 18:00, 2027-05-30 08:10; now if left out' -r
complete -c anthesisd -n "__fish_anthesisd_using_subcommand fruit; and __fish_seen_subcommand_from harvested" -l note -d 'Anything to add' -r
complete -c anthesisd -n "__fish_anthesisd_using_subcommand fruit; and __fish_seen_subcommand_from harvested" -l by -d 'Who' -r
complete -c anthesisd -n "__fish_anthesisd_using_subcommand fruit; and __fish_seen_subcommand_from harvested" -l corrects -d 'Puts this in place of an entry of that number; what is not said anew stays as it was' -r
complete -c anthesisd -n "__fish_anthesisd_using_subcommand fruit; and __fish_seen_subcommand_from harvested" -l config -d 'The configuration file' -r -F
complete -c anthesisd -n "__fish_anthesisd_using_subcommand fruit; and __fish_seen_subcommand_from harvested" -l json -d 'Results as JSON'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand fruit; and __fish_seen_subcommand_from harvested" -s h -l help -d 'Print help'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand fruit; and __fish_seen_subcommand_from seeds" -l at -d 'When: 21:40, 4:40 pm, 20 minutes ago, yesterday 18:00, last night, Tue 18:00, 2027-05-30 08:10; now if left out' -r
complete -c anthesisd -n "__fish_anthesisd_using_subcommand fruit; and __fish_seen_subcommand_from seeds" -l note -d 'Anything to add' -r
complete -c anthesisd -n "__fish_anthesisd_using_subcommand fruit; and __fish_seen_subcommand_from seeds" -l by -d 'Who' -r
complete -c anthesisd -n "__fish_anthesisd_using_subcommand fruit; and __fish_seen_subcommand_from seeds" -l corrects -d 'Puts this in place of an entry of that number; what is not said anew stays as it was' -r
complete -c anthesisd -n "__fish_anthesisd_using_subcommand fruit; and __fish_seen_subcommand_from seeds" -l config -d 'The configuration file' -r -F
complete -c anthesisd -n "__fish_anthesisd_using_subcommand fruit; and __fish_seen_subcommand_from seeds" -l json -d 'Results as JSON'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand fruit; and __fish_seen_subcommand_from seeds" -s h -l help -d 'Print help'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand fruit; and __fish_seen_subcommand_from sown" -l at -d 'When: 21:40, 4:40 pm, 20 minutes ago, yesterday 18:00, last night, Tue 18:00, 2027-05-30 08:10; now if left out' -r
complete -c anthesisd -n "__fish_anthesisd_using_subcommand fruit; and __fish_seen_subcommand_from sown" -l note -d 'Anything to add' -r
complete -c anthesisd -n "__fish_anthesisd_using_subcommand fruit; and __fish_seen_subcommand_from sown" -l by -d 'Who' -r
complete -c anthesisd -n "__fish_anthesisd_using_subcommand fruit; and __fish_seen_subcommand_from sown" -l corrects -d 'Puts this in place of an entry of that number; what is not said anew stays as it was' -r
complete -c anthesisd -n "__fish_anthesisd_using_subcommand fruit; and __fish_seen_subcommand_from sown" -l config -d 'The configuration file' -r -F
complete -c anthesisd -n "__fish_anthesisd_using_subcommand fruit; and __fish_seen_subcommand_from sown" -l json -d 'Results as JSON'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand fruit; and __fish_seen_subcommand_from sown" -s h -l help -d 'Print help'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand fruit; and __fish_seen_subcommand_from germinated" -l albino -d 'How many of them without green' -r
complete -c anthesisd -n "__fish_anthesisd_using_subcommand fruit; and __fish_seen_subcommand_from germinated" -l at -d 'When: 21:40, 4:40 pm, 20 minutes ago, yesterday 18:00, last night, Tue 18:00, 2027-05-30 08:10; now if left out' -r
complete -c anthesisd -n "__fish_anthesisd_using_subcommand fruit; and __fish_seen_subcommand_from germinated" -l note -d 'Anything to add' -r
complete -c anthesisd -n "__fish_anthesisd_using_subcommand fruit; and __fish_seen_subcommand_from germinated" -l by -d 'Who' -r
complete -c anthesisd -n "__fish_anthesisd_using_subcommand fruit; and __fish_seen_subcommand_from germinated" -l corrects -d 'Puts this in place of an entry of that number; what is not said anew stays as it was' -r
complete -c anthesisd -n "__fish_anthesisd_using_subcommand fruit; and __fish_seen_subcommand_from germinated" -l config -d 'The configuration file' -r -F
complete -c anthesisd -n "__fish_anthesisd_using_subcommand fruit; and __fish_seen_subcommand_from germinated" -l json -d 'Results as JSON'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand fruit; and __fish_seen_subcommand_from germinated" -s h -l help -d 'Print help'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand fruit; and __fish_seen_subcommand_from help" -f -a "set" -d 'Fruit has set'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand fruit; and __fish_seen_subcommand_from help" -f -a "colour" -d 'The colour that the berries have come to'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand fruit; and __fish_seen_subcommand_from help" -f -a "lost" -d 'Berries were lost'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand fruit; and __fish_seen_subcommand_from help" -f -a "ripe" -d 'It is ripe'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand fruit; and __fish_seen_subcommand_from help" -f -a "harvested" -d 'Berries were harvested'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand fruit; and __fish_seen_subcommand_from help" -f -a "seeds" -d 'Seeds, cleaned and counted'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand fruit; and __fish_seen_subcommand_from help" -f -a "sown" -d 'Seeds were sown'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand fruit; and __fish_seen_subcommand_from help" -f -a "germinated" -d 'Seedlings came up since the last count'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand fruit; and __fish_seen_subcommand_from help" -f -a "help" -d 'Print this message or the help of the given subcommand(s)'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand tonight" -l at -d 'When: 21:40, 4:40 pm, 20 minutes ago, yesterday 18:00, last night, Tue 18:00, 2027-05-30 08:10; now if left out' -r
complete -c anthesisd -n "__fish_anthesisd_using_subcommand tonight" -l note -d 'Anything to add' -r
complete -c anthesisd -n "__fish_anthesisd_using_subcommand tonight" -l by -d 'Who' -r
complete -c anthesisd -n "__fish_anthesisd_using_subcommand tonight" -l corrects -d 'Puts this in place of an entry of that number; what is not said anew stays as it was' -r
complete -c anthesisd -n "__fish_anthesisd_using_subcommand tonight" -l config -d 'The configuration file' -r -F
complete -c anthesisd -n "__fish_anthesisd_using_subcommand tonight" -l json -d 'Results as JSON'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand tonight" -s h -l help -d 'Print help'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand book; and not __fish_seen_subcommand_from history overlap blooms calendar export import withdraw help" -l at -d 'When: 21:40, 4:40 pm, 20 minutes ago, yesterday 18:00, last night, Tue 18:00, 2027-05-30 08:10; now if left out' -r
complete -c anthesisd -n "__fish_anthesisd_using_subcommand book; and not __fish_seen_subcommand_from history overlap blooms calendar export import withdraw help" -l note -d 'Anything to add' -r
complete -c anthesisd -n "__fish_anthesisd_using_subcommand book; and not __fish_seen_subcommand_from history overlap blooms calendar export import withdraw help" -l by -d 'Who' -r
complete -c anthesisd -n "__fish_anthesisd_using_subcommand book; and not __fish_seen_subcommand_from history overlap blooms calendar export import withdraw help" -l corrects -d 'Puts this in place of an entry of that number; what is not said anew stays as it was' -r
complete -c anthesisd -n "__fish_anthesisd_using_subcommand book; and not __fish_seen_subcommand_from history overlap blooms calendar export import withdraw help" -l config -d 'The configuration file' -r -F
complete -c anthesisd -n "__fish_anthesisd_using_subcommand book; and not __fish_seen_subcommand_from history overlap blooms calendar export import withdraw help" -l json -d 'Results as JSON'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand book; and not __fish_seen_subcommand_from history overlap blooms calendar export import withdraw help" -s h -l help -d 'Print help'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand book; and not __fish_seen_subcommand_from history overlap blooms calendar export import withdraw help" -f -a "history" -d 'Every entry that was ever made, those that no longer hold among them'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand book; and not __fish_seen_subcommand_from history overlap blooms calendar export import withdraw help" -f -a "overlap" -d 'Benches in bud or in flower: whose pollen is ripe while whose flowers are receptive, and what to keep for how long'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand book; and not __fish_seen_subcommand_from history overlap blooms calendar export import withdraw help" -f -a "blooms" -d 'Blooms looked back on: this one against earlier ones of the plant and the house, what was booked and what was missed'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand book; and not __fish_seen_subcommand_from history overlap blooms calendar export import withdraw help" -f -a "calendar" -d 'Windows and jobs as an iCalendar file on standard output'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand book; and not __fish_seen_subcommand_from history overlap blooms calendar export import withdraw help" -f -a "export" -d 'The whole book on standard output, as JSON Lines'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand book; and not __fish_seen_subcommand_from history overlap blooms calendar export import withdraw help" -f -a "import" -d 'Puts an exported book into the store'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand book; and not __fish_seen_subcommand_from history overlap blooms calendar export import withdraw help" -f -a "withdraw" -d 'Takes an entry back: it stays in the history and counts no more'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand book; and not __fish_seen_subcommand_from history overlap blooms calendar export import withdraw help" -f -a "help" -d 'Print this message or the help of the given subcommand(s)'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand book; and __fish_seen_subcommand_from history" -l at -d 'When: 21:40, 4:40 pm, 20 minutes ago, yesterday 18:00, last night, Tue 18:00, 2027-05-30 08:10; now if left out' -r
complete -c anthesisd -n "__fish_anthesisd_using_subcommand book; and __fish_seen_subcommand_from history" -l note -d 'Anything to add' -r
complete -c anthesisd -n "__fish_anthesisd_using_subcommand book; and __fish_seen_subcommand_from history" -l by -d 'Who' -r
complete -c anthesisd -n "__fish_anthesisd_using_subcommand book; and __fish_seen_subcommand_from history" -l corrects -d 'Puts this in place of an entry of that number; what is not said anew stays as it was' -r
complete -c anthesisd -n "__fish_anthesisd_using_subcommand book; and __fish_seen_subcommand_from history" -l config -d 'The configuration file' -r -F
complete -c anthesisd -n "__fish_anthesisd_using_subcommand book; and __fish_seen_subcommand_from history" -l json -d 'Results as JSON'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand book; and __fish_seen_subcommand_from history" -s h -l help -d 'Print help'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand book; and __fish_seen_subcommand_from overlap" -l at -d 'When: 21:40, 4:40 pm, 20 minutes ago, yesterday 18:00, last night, Tue 18:00, 2027-05-30 08:10; now if left out' -r
complete -c anthesisd -n "__fish_anthesisd_using_subcommand book; and __fish_seen_subcommand_from overlap" -l note -d 'Anything to add' -r
complete -c anthesisd -n "__fish_anthesisd_using_subcommand book; and __fish_seen_subcommand_from overlap" -l by -d 'Who' -r
complete -c anthesisd -n "__fish_anthesisd_using_subcommand book; and __fish_seen_subcommand_from overlap" -l corrects -d 'Puts this in place of an entry of that number; what is not said anew stays as it was' -r
complete -c anthesisd -n "__fish_anthesisd_using_subcommand book; and __fish_seen_subcommand_from overlap" -l config -d 'The configuration file' -r -F
complete -c anthesisd -n "__fish_anthesisd_using_subcommand book; and __fish_seen_subcommand_from overlap" -l json -d 'Results as JSON'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand book; and __fish_seen_subcommand_from overlap" -s h -l help -d 'Print help'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand book; and __fish_seen_subcommand_from blooms" -l at -d 'When: 21:40, 4:40 pm, 20 minutes ago, yesterday 18:00, last night, Tue 18:00, 2027-05-30 08:10; now if left out' -r
complete -c anthesisd -n "__fish_anthesisd_using_subcommand book; and __fish_seen_subcommand_from blooms" -l note -d 'Anything to add' -r
complete -c anthesisd -n "__fish_anthesisd_using_subcommand book; and __fish_seen_subcommand_from blooms" -l by -d 'Who' -r
complete -c anthesisd -n "__fish_anthesisd_using_subcommand book; and __fish_seen_subcommand_from blooms" -l corrects -d 'Puts this in place of an entry of that number; what is not said anew stays as it was' -r
complete -c anthesisd -n "__fish_anthesisd_using_subcommand book; and __fish_seen_subcommand_from blooms" -l config -d 'The configuration file' -r -F
complete -c anthesisd -n "__fish_anthesisd_using_subcommand book; and __fish_seen_subcommand_from blooms" -l json -d 'Results as JSON'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand book; and __fish_seen_subcommand_from blooms" -s h -l help -d 'Print help'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand book; and __fish_seen_subcommand_from calendar" -l at -d 'When: 21:40, 4:40 pm, 20 minutes ago, yesterday 18:00, last night, Tue 18:00, 2027-05-30 08:10; now if left out' -r
complete -c anthesisd -n "__fish_anthesisd_using_subcommand book; and __fish_seen_subcommand_from calendar" -l note -d 'Anything to add' -r
complete -c anthesisd -n "__fish_anthesisd_using_subcommand book; and __fish_seen_subcommand_from calendar" -l by -d 'Who' -r
complete -c anthesisd -n "__fish_anthesisd_using_subcommand book; and __fish_seen_subcommand_from calendar" -l corrects -d 'Puts this in place of an entry of that number; what is not said anew stays as it was' -r
complete -c anthesisd -n "__fish_anthesisd_using_subcommand book; and __fish_seen_subcommand_from calendar" -l config -d 'The configuration file' -r -F
complete -c anthesisd -n "__fish_anthesisd_using_subcommand book; and __fish_seen_subcommand_from calendar" -l json -d 'Results as JSON'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand book; and __fish_seen_subcommand_from calendar" -s h -l help -d 'Print help'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand book; and __fish_seen_subcommand_from export" -l at -d 'When: 21:40, 4:40 pm, 20 minutes ago, yesterday 18:00, last night, Tue 18:00, 2027-05-30 08:10; now if left out' -r
complete -c anthesisd -n "__fish_anthesisd_using_subcommand book; and __fish_seen_subcommand_from export" -l note -d 'Anything to add' -r
complete -c anthesisd -n "__fish_anthesisd_using_subcommand book; and __fish_seen_subcommand_from export" -l by -d 'Who' -r
complete -c anthesisd -n "__fish_anthesisd_using_subcommand book; and __fish_seen_subcommand_from export" -l corrects -d 'Puts this in place of an entry of that number; what is not said anew stays as it was' -r
complete -c anthesisd -n "__fish_anthesisd_using_subcommand book; and __fish_seen_subcommand_from export" -l config -d 'The configuration file' -r -F
complete -c anthesisd -n "__fish_anthesisd_using_subcommand book; and __fish_seen_subcommand_from export" -l json -d 'Results as JSON'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand book; and __fish_seen_subcommand_from export" -s h -l help -d 'Print help'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand book; and __fish_seen_subcommand_from import" -l at -d 'When: 21:40, 4:40 pm, 20 minutes ago, yesterday 18:00, last night, Tue 18:00, 2027-05-30 08:10; now if left out' -r
complete -c anthesisd -n "__fish_anthesisd_using_subcommand book; and __fish_seen_subcommand_from import" -l note -d 'Anything to add' -r
complete -c anthesisd -n "__fish_anthesisd_using_subcommand book; and __fish_seen_subcommand_from import" -l by -d 'Who' -r
complete -c anthesisd -n "__fish_anthesisd_using_subcommand book; and __fish_seen_subcommand_from import" -l corrects -d 'Puts this in place of an entry of that number; what is not said anew stays as it was' -r
complete -c anthesisd -n "__fish_anthesisd_using_subcommand book; and __fish_seen_subcommand_from import" -l config -d 'The configuration file' -r -F
complete -c anthesisd -n "__fish_anthesisd_using_subcommand book; and __fish_seen_subcommand_from import" -l json -d 'Results as JSON'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand book; and __fish_seen_subcommand_from import" -s h -l help -d 'Print help'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand book; and __fish_seen_subcommand_from withdraw" -l at -d 'When: 21:40, 4:40 pm, 20 minutes ago, yesterday 18:00, last night, Tue 18:00, 2027-05-30 08:10; now if left out' -r
complete -c anthesisd -n "__fish_anthesisd_using_subcommand book; and __fish_seen_subcommand_from withdraw" -l note -d 'Anything to add' -r
complete -c anthesisd -n "__fish_anthesisd_using_subcommand book; and __fish_seen_subcommand_from withdraw" -l by -d 'Who' -r
complete -c anthesisd -n "__fish_anthesisd_using_subcommand book; and __fish_seen_subcommand_from withdraw" -l corrects -d 'Puts this in place of an entry of that number; what is not said anew stays as it was' -r
complete -c anthesisd -n "__fish_anthesisd_using_subcommand book; and __fish_seen_subcommand_from withdraw" -l config -d 'The configuration file' -r -F
complete -c anthesisd -n "__fish_anthesisd_using_subcommand book; and __fish_seen_subcommand_from withdraw" -l json -d 'Results as JSON'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand book; and __fish_seen_subcommand_from withdraw" -s h -l help -d 'Print help'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand book; and __fish_seen_subcommand_from help" -f -a "history" -d 'Every entry that was ever made, those that no longer hold among them'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand book; and __fish_seen_subcommand_from help" -f -a "overlap" -d 'Benches in bud or in flower: whose pollen is ripe while whose flowers are receptive, and what to keep for how long'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand book; and __fish_seen_subcommand_from help" -f -a "blooms" -d 'Blooms looked back on: this one against earlier ones of the plant and the house, what was booked and what was missed'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand book; and __fish_seen_subcommand_from help" -f -a "calendar" -d 'Windows and jobs as an iCalendar file on standard output'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand book; and __fish_seen_subcommand_from help" -f -a "export" -d 'The whole book on standard output, as JSON Lines'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand book; and __fish_seen_subcommand_from help" -f -a "import" -d 'Puts an exported book into the store'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand book; and __fish_seen_subcommand_from help" -f -a "withdraw" -d 'Takes an entry back: it stays in the history and counts no more'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand book; and __fish_seen_subcommand_from help" -f -a "help" -d 'Print this message or the help of the given subcommand(s)'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand acknowledge" -l coming -d 'Acknowledges nothing: you come by this time of day, in two hours at most. Until then the alarms of the bench are not repeated (of the bench of the alarm that is named, if there are several)' -r
complete -c anthesisd -n "__fish_anthesisd_using_subcommand acknowledge" -l by -d 'Who' -r
complete -c anthesisd -n "__fish_anthesisd_using_subcommand acknowledge" -l config -d 'The configuration file' -r -F
complete -c anthesisd -n "__fish_anthesisd_using_subcommand acknowledge" -s h -l help -d 'Print help'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand alarm-test" -l config -d 'The configuration file' -r -F
complete -c anthesisd -n "__fish_anthesisd_using_subcommand alarm-test" -s h -l help -d 'Print help'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand help; and not __fish_seen_subcommand_from page-password run status check replay import export review backup restore tape sign plant pollen cross fruit tonight book acknowledge alarm-test help" -f -a "page-password" -d 'Reads a password and writes its hash, for the file that `[page] password_file` names'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand help; and not __fish_seen_subcommand_from page-password run status check replay import export review backup restore tape sign plant pollen cross fruit tonight book acknowledge alarm-test help" -f -a "run" -d 'The service, in the foreground, until SIGTERM or SIGINT'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand help; and not __fish_seen_subcommand_from page-password run status check replay import export review backup restore tape sign plant pollen cross fruit tonight book acknowledge alarm-test help" -f -a "status" -d 'How the house is, on one screen: alarms, benches, lines, broker, store; exits 0 only if nothing stands and nothing is wrong'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand help; and not __fish_seen_subcommand_from page-password run status check replay import export review backup restore tape sign plant pollen cross fruit tonight book acknowledge alarm-test help" -f -a "check" -d 'Reads the configuration and tries intakes, store, broker, database and page; a line each'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand help; and not __fish_seen_subcommand_from page-password run status check replay import export review backup restore tape sign plant pollen cross fruit tonight book acknowledge alarm-test help" -f -a "replay" -d 'Runs recordings through the same code as the service and writes the events to standard output'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand help; and not __fish_seen_subcommand_from page-password run status check replay import export review backup restore tape sign plant pollen cross fruit tonight book acknowledge alarm-test help" -f -a "import" -d 'Puts recordings and tables into the record'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand help; and not __fish_seen_subcommand_from page-password run status check replay import export review backup restore tape sign plant pollen cross fruit tonight book acknowledge alarm-test help" -f -a "export" -d 'Writes the record of a bench to standard output, as a recording or a table'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand help; and not __fish_seen_subcommand_from page-password run status check replay import export review backup restore tape sign plant pollen cross fruit tonight book acknowledge alarm-test help" -f -a "review" -d 'Writes the record of a bloom, or of a span of days, as one HTML file'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand help; and not __fish_seen_subcommand_from page-password run status check replay import export review backup restore tape sign plant pollen cross fruit tonight book acknowledge alarm-test help" -f -a "backup" -d 'Copies the record into a new file, while the service runs or not'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand help; and not __fish_seen_subcommand_from page-password run status check replay import export review backup restore tape sign plant pollen cross fruit tonight book acknowledge alarm-test help" -f -a "restore" -d 'Puts a backup in the place of the record, which is kept under another name; the service must be stopped'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand help; and not __fish_seen_subcommand_from page-password run status check replay import export review backup restore tape sign plant pollen cross fruit tonight book acknowledge alarm-test help" -f -a "tape" -d 'Records a height that you taped, and says how it fits; or takes one back'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand help; and not __fish_seen_subcommand_from page-password run status check replay import export review backup restore tape sign plant pollen cross fruit tonight book acknowledge alarm-test help" -f -a "sign" -d 'Records a sign that you saw, or a thing that you did'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand help; and not __fish_seen_subcommand_from page-password run status check replay import export review backup restore tape sign plant pollen cross fruit tonight book acknowledge alarm-test help" -f -a "plant" -d 'Plants: origin, parents, weighings, repottings, dormancy'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand help; and not __fish_seen_subcommand_from page-password run status check replay import export review backup restore tape sign plant pollen cross fruit tonight book acknowledge alarm-test help" -f -a "pollen" -d 'The pollen bank: lots collected or received, where they are kept, thaws, tests'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand help; and not __fish_seen_subcommand_from page-password run status check replay import export review backup restore tape sign plant pollen cross fruit tonight book acknowledge alarm-test help" -f -a "cross" -d 'Pollinations, and the crosses they make; says how the two plants are related first'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand help; and not __fish_seen_subcommand_from page-password run status check replay import export review backup restore tape sign plant pollen cross fruit tonight book acknowledge alarm-test help" -f -a "fruit" -d 'Fruit of a cross: set, colour, losses, harvest, seed, sowing, seedlings'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand help; and not __fish_seen_subcommand_from page-password run status check replay import export review backup restore tape sign plant pollen cross fruit tonight book acknowledge alarm-test help" -f -a "tonight" -d 'The sheet for bloom night: windows, pollen that could serve, what to thaw, what to bring, what can hurt'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand help; and not __fish_seen_subcommand_from page-password run status check replay import export review backup restore tape sign plant pollen cross fruit tonight book acknowledge alarm-test help" -f -a "book" -d 'The bloom book as a whole: history, overlaps, blooms compared, calendar, export and import'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand help; and not __fish_seen_subcommand_from page-password run status check replay import export review backup restore tape sign plant pollen cross fruit tonight book acknowledge alarm-test help" -f -a "acknowledge" -d 'Takes note of an alarm, or of all that stand: it is repeated no more'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand help; and not __fish_seen_subcommand_from page-password run status check replay import export review backup restore tape sign plant pollen cross fruit tonight book acknowledge alarm-test help" -f -a "alarm-test" -d 'Tries the alarm command and the broker now, with a message that is marked as a test; says of each whether it was delivered'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand help; and not __fish_seen_subcommand_from page-password run status check replay import export review backup restore tape sign plant pollen cross fruit tonight book acknowledge alarm-test help" -f -a "help" -d 'Print this message or the help of the given subcommand(s)'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand help; and __fish_seen_subcommand_from plant" -f -a "add" -d 'Takes up a plant into the book'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand help; and __fish_seen_subcommand_from plant" -f -a "weighed" -d 'The corm was weighed'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand help; and __fish_seen_subcommand_from plant" -f -a "repotted" -d 'It was repotted'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand help; and __fish_seen_subcommand_from plant" -f -a "dormant" -d 'The leaf is down: dormancy begins'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand help; and __fish_seen_subcommand_from plant" -f -a "in-leaf" -d 'A leaf is up: dormancy ends'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand help; and __fish_seen_subcommand_from plant" -f -a "gone" -d 'It died or left the house'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand help; and __fish_seen_subcommand_from pollen" -f -a "collected" -d 'Pollen was collected from a plant of the house: makes a new lot'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand help; and __fish_seen_subcommand_from pollen" -f -a "received" -d 'Pollen of a plant came from elsewhere: makes a new lot'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand help; and __fish_seen_subcommand_from pollen" -f -a "stored" -d 'The lot is kept there from now on'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand help; and __fish_seen_subcommand_from pollen" -f -a "thawed" -d 'Portions were thawed or taken out'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand help; and __fish_seen_subcommand_from pollen" -f -a "tested" -d 'A germination test was done'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand help; and __fish_seen_subcommand_from pollen" -f -a "discarded" -d 'What is left was thrown away'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand help; and __fish_seen_subcommand_from fruit" -f -a "set" -d 'Fruit has set'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand help; and __fish_seen_subcommand_from fruit" -f -a "colour" -d 'The colour that the berries have come to'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand help; and __fish_seen_subcommand_from fruit" -f -a "lost" -d 'Berries were lost'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand help; and __fish_seen_subcommand_from fruit" -f -a "ripe" -d 'It is ripe'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand help; and __fish_seen_subcommand_from fruit" -f -a "harvested" -d 'Berries were harvested'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand help; and __fish_seen_subcommand_from fruit" -f -a "seeds" -d 'Seeds, cleaned and counted'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand help; and __fish_seen_subcommand_from fruit" -f -a "sown" -d 'Seeds were sown'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand help; and __fish_seen_subcommand_from fruit" -f -a "germinated" -d 'Seedlings came up since the last count'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand help; and __fish_seen_subcommand_from book" -f -a "history" -d 'Every entry that was ever made, those that no longer hold among them'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand help; and __fish_seen_subcommand_from book" -f -a "overlap" -d 'Benches in bud or in flower: whose pollen is ripe while whose flowers are receptive, and what to keep for how long'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand help; and __fish_seen_subcommand_from book" -f -a "blooms" -d 'Blooms looked back on: this one against earlier ones of the plant and the house, what was booked and what was missed'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand help; and __fish_seen_subcommand_from book" -f -a "calendar" -d 'Windows and jobs as an iCalendar file on standard output'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand help; and __fish_seen_subcommand_from book" -f -a "export" -d 'The whole book on standard output, as JSON Lines'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand help; and __fish_seen_subcommand_from book" -f -a "import" -d 'Puts an exported book into the store'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand help; and __fish_seen_subcommand_from book" -f -a "withdraw" -d 'Takes an entry back: it stays in the history and counts no more'
