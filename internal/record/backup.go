package record

// BackupPlan is where and how often the program keeps a backup by itself while it is
// open. The last one counts.
type BackupPlan struct {
	Folder     string `json:"folder" say:"the backup folder" help:"On another disk: its whole path"`
	EveryHours int    `json:"every_hours" say:"the interval" in:"1..168 h" label:"Every"`
	// Recipient is the public key to which backups are encrypted; empty: they are not.
	// The passphrase that opens them stands nowhere.
	Recipient string `json:"recipient,omitempty" say:"the public key" as:"raw"`
}

func (BackupPlan) Kind() Kind { return "backup-plan" }

func (b BackupPlan) rules(k *check) {
	if len(b.Folder) > 1000 {
		k.refuse("folder", "The path of the backup folder has more than 1000 bytes.")
	}
	if len(b.Recipient) > 200 {
		k.refuse("recipient", "A public key has fewer than 200 letters.")
	}
}

func (b BackupPlan) applyStudio(st *Studio, _ Stamp) error {
	st.Backups = &b
	return nil
}
