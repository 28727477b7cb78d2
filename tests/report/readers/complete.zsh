# complete.zsh FOLDER WORDS: what WORDS become when TAB is pressed, in a zsh whose completions come from FOLDER too.
zmodload zsh/zpty
zpty z zsh -f -i
zpty -w z "cd $1; fpath=($1 \$fpath); autoload -Uz compinit; compinit -u -d $1/.zcompdump; PS1='> '; unsetopt beep; print rea''dy"
deadline=$((SECONDS + 60))
seen=
while [[ $seen != *ready* && $SECONDS -lt $deadline ]]; do
  zpty -rt z part && seen+=$part || sleep 0.1
done
zpty -w -n z "$2"$'\t'
sleep 0.5
zpty -w -n z $'\x01print -r -- "=== \x05"\n'
seen=
while [[ $seen != *'=== '*$'\n'*'=== '*$'\n'* && $SECONDS -lt $deadline ]]; do
  zpty -rt z part && seen+=$part || sleep 0.1
done
print -r -- "$seen"
zpty -d z
