# Completion of gaitwright for fish. In ~/.config/fish/config.fish:
#   gaitwright completion fish | source
function __gaitwright_complete
    set -l words (commandline -opc)
    set -l last (commandline -ct)
    set -l found ($words[1] complete "--last=$last" -- $words[2..-1] 2>/dev/null)
    if set -q found[1]
        printf '%s\n' $found
    else
        __fish_complete_path $last
    end
end
complete -c gaitwright -f -a '(__gaitwright_complete)'
