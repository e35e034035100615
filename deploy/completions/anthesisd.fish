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
complete -c anthesisd -n "__fish_anthesisd_needs_command" -f -a "run" -d 'The service, in the foreground, until SIGTERM or SIGINT'
complete -c anthesisd -n "__fish_anthesisd_needs_command" -f -a "check" -d 'Reads the configuration and tries ports, store, broker and forwarder; a line each'
complete -c anthesisd -n "__fish_anthesisd_needs_command" -f -a "replay" -d 'Runs recordings through the same code as the service and writes the events to standard output'
complete -c anthesisd -n "__fish_anthesisd_needs_command" -f -a "import" -d 'Puts recordings and tables into the record'
complete -c anthesisd -n "__fish_anthesisd_needs_command" -f -a "export" -d 'Writes the record of a bench to standard output, as a recording or a table'
complete -c anthesisd -n "__fish_anthesisd_needs_command" -f -a "review" -d 'Writes the record of a bloom, or of a span of days, as one HTML file'
complete -c anthesisd -n "__fish_anthesisd_needs_command" -f -a "tape" -d 'Books a height that you taped, in metres'
complete -c anthesisd -n "__fish_anthesisd_needs_command" -f -a "sign" -d 'Books a sign that you saw, or a thing that you did'
complete -c anthesisd -n "__fish_anthesisd_needs_command" -f -a "acknowledge" -d 'Takes note of an alarm, or of all that stand: it is repeated no more'
complete -c anthesisd -n "__fish_anthesisd_needs_command" -f -a "help" -d 'Print this message or the help of the given subcommand(s)'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand run" -l config -d 'The configuration file' -r -F
complete -c anthesisd -n "__fish_anthesisd_using_subcommand run" -s h -l help -d 'Print help'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand check" -l config -d 'The configuration file' -r -F
complete -c anthesisd -n "__fish_anthesisd_using_subcommand check" -s h -l help -d 'Print help'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand replay" -l config -d 'The configuration file' -r -F
complete -c anthesisd -n "__fish_anthesisd_using_subcommand replay" -s h -l help -d 'Print help'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand import" -l bench -d 'The bench of a table without a column for it' -r
complete -c anthesisd -n "__fish_anthesisd_using_subcommand import" -l config -d 'The configuration file' -r -F
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
complete -c anthesisd -n "__fish_anthesisd_using_subcommand tape" -l at -d 'When: now, 21:40, yesterday 18:00, 2027-05-30 08:10' -r
complete -c anthesisd -n "__fish_anthesisd_using_subcommand tape" -l note -d 'Anything to add' -r
complete -c anthesisd -n "__fish_anthesisd_using_subcommand tape" -l by -d 'Who' -r
complete -c anthesisd -n "__fish_anthesisd_using_subcommand tape" -l config -d 'The configuration file' -r -F
complete -c anthesisd -n "__fish_anthesisd_using_subcommand tape" -s h -l help -d 'Print help'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand sign" -l tip -d 'With mount-moved: the new distance from the overhead ranger down to the datum, in metres' -r
complete -c anthesisd -n "__fish_anthesisd_using_subcommand sign" -l rim -d 'With mount-moved: the new distance from the side ranger to the rim, in metres' -r
complete -c anthesisd -n "__fish_anthesisd_using_subcommand sign" -l at -d 'When: now, 21:40, yesterday 18:00, 2027-05-30 08:10' -r
complete -c anthesisd -n "__fish_anthesisd_using_subcommand sign" -l note -d 'Anything to add' -r
complete -c anthesisd -n "__fish_anthesisd_using_subcommand sign" -l by -d 'Who' -r
complete -c anthesisd -n "__fish_anthesisd_using_subcommand sign" -l config -d 'The configuration file' -r -F
complete -c anthesisd -n "__fish_anthesisd_using_subcommand sign" -l withdraw -d 'Takes back a sign booked for that time'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand sign" -s h -l help -d 'Print help'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand acknowledge" -l by -d 'Who' -r
complete -c anthesisd -n "__fish_anthesisd_using_subcommand acknowledge" -l config -d 'The configuration file' -r -F
complete -c anthesisd -n "__fish_anthesisd_using_subcommand acknowledge" -s h -l help -d 'Print help'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand help; and not __fish_seen_subcommand_from run check replay import export review tape sign acknowledge help" -f -a "run" -d 'The service, in the foreground, until SIGTERM or SIGINT'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand help; and not __fish_seen_subcommand_from run check replay import export review tape sign acknowledge help" -f -a "check" -d 'Reads the configuration and tries ports, store, broker and forwarder; a line each'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand help; and not __fish_seen_subcommand_from run check replay import export review tape sign acknowledge help" -f -a "replay" -d 'Runs recordings through the same code as the service and writes the events to standard output'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand help; and not __fish_seen_subcommand_from run check replay import export review tape sign acknowledge help" -f -a "import" -d 'Puts recordings and tables into the record'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand help; and not __fish_seen_subcommand_from run check replay import export review tape sign acknowledge help" -f -a "export" -d 'Writes the record of a bench to standard output, as a recording or a table'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand help; and not __fish_seen_subcommand_from run check replay import export review tape sign acknowledge help" -f -a "review" -d 'Writes the record of a bloom, or of a span of days, as one HTML file'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand help; and not __fish_seen_subcommand_from run check replay import export review tape sign acknowledge help" -f -a "tape" -d 'Books a height that you taped, in metres'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand help; and not __fish_seen_subcommand_from run check replay import export review tape sign acknowledge help" -f -a "sign" -d 'Books a sign that you saw, or a thing that you did'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand help; and not __fish_seen_subcommand_from run check replay import export review tape sign acknowledge help" -f -a "acknowledge" -d 'Takes note of an alarm, or of all that stand: it is repeated no more'
complete -c anthesisd -n "__fish_anthesisd_using_subcommand help; and not __fish_seen_subcommand_from run check replay import export review tape sign acknowledge help" -f -a "help" -d 'Print this message or the help of the given subcommand(s)'
